//! Clock, processor time, memory, bytes read and load, as the system tells them.

use std::fs;
use std::hint::black_box;
use std::time::Instant;

/// Shorter work than this, in seconds, has no processor time worth telling: the system counts it in
/// ticks of some milliseconds.
const SHORT_S: f64 = 0.05;

/// What some work took, in seconds.
#[derive(Debug, Clone, Copy)]
pub struct Took {
    /// By the clock, the fastest of some runs: what else the machine does only adds.
    pub clock: f64,
    /// Of the processor on all threads, the mean of the runs; none where it cannot be told.
    pub processor: Option<f64>,
}

impl std::fmt::Display for Took {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", seconds(self.clock))?;
        self.processor.map_or(Ok(()), |taken| write!(f, " (processor {})", seconds(taken)))
    }
}

/// The fastest of some runs.
pub fn fastest<T>(runs: usize, mut work: impl FnMut() -> T) -> Took {
    let (mut clock, mut whole) = (f64::INFINITY, 0.0);
    let before = processor();
    for _ in 0..runs.max(1) {
        let start = Instant::now();
        black_box(work());
        let taken = start.elapsed().as_secs_f64();
        clock = clock.min(taken);
        whole += taken;
    }
    let used = processor().zip(before).map(|(after, before)| after - before);
    Took {
        clock,
        processor: used.filter(|_| whole > SHORT_S).map(|used| used / runs.max(1) as f64),
    }
}

/// Processor time of all threads so far, in seconds.
pub fn processor() -> Option<f64> {
    let tasks = fs::read_dir("/proc/self/task").ok()?.flatten();
    let of_one = |path: std::path::PathBuf| -> Option<f64> {
        fs::read_to_string(path).ok()?.split_whitespace().next()?.parse().ok()
    };
    Some(tasks.filter_map(|task| of_one(task.path().join("schedstat"))).sum::<f64>() * 1e-9)
}

/// The most memory that this process has had at once, in bytes.
pub fn most_memory() -> Option<f64> {
    let told = fs::read_to_string("/proc/self/status").ok()?;
    let line = told.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    Some(line.split_whitespace().next()?.parse::<f64>().ok()? * 1024.0)
}

/// Bytes that this process has read so far, from files or from what the system keeps of them.
pub fn bytes_read() -> Option<usize> {
    let told = fs::read_to_string("/proc/self/io").ok()?;
    told.lines().find_map(|line| line.strip_prefix("rchar:"))?.trim().parse().ok()
}

/// How many threads want to run, on the mean of the last minute.
pub fn load() -> String {
    let told = fs::read_to_string("/proc/loadavg").unwrap_or_default();
    format!("load {}", told.split_whitespace().next().unwrap_or("not known"))
}

/// A time in the unit that suits it.
pub fn seconds(taken: f64) -> String {
    match taken {
        taken if taken < 1e-6 => format!("{:.0} ns", taken * 1e9),
        taken if taken < 1e-3 => format!("{:.1} µs", taken * 1e6),
        taken if taken < 1.0 => format!("{:.2} ms", taken * 1e3),
        taken => format!("{taken:.2} s"),
    }
}
