#![no_main]

#[path = "../../hostile/mod.rs"]
mod hostile;

use hostile::Target;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let _ = Target::of("prepared").check(bytes);
});
