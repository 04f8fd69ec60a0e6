//! The `foreland` program.

fn main() {}
