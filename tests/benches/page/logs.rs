//! The logs that are loaded.

use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use evenkeel_tests::long_log::write_log;

/// Rows a second of every log.
pub const RATE_HZ: f64 = 1000.0;

/// A log on disk, for as long as it is needed.
pub struct LogFile {
    path: PathBuf,
    pub bytes: u64,
}

impl LogFile {
    pub fn new(seconds: f64, channels: usize) -> Self {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
        let path = folder.join(format!("bench-{}s-{channels}ch-{}.csv", seconds.round(), std::process::id()));
        let mut file = BufWriter::new(File::create(&path).unwrap());
        write_log(&mut file, seconds, channels, RATE_HZ).unwrap();
        file.flush().unwrap();
        let bytes = fs::metadata(&path).unwrap().len();
        Self { path, bytes }
    }

    pub fn path(&self) -> &Path {
        &self.path
    }
}

impl Drop for LogFile {
    fn drop(&mut self) {
        let _ = fs::remove_file(&self.path);
    }
}
