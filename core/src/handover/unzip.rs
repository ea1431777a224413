//! Files out of a ZIP that anybody may have made.

use std::collections::HashMap;
use std::io::Read;

use flate2::bufread::DeflateDecoder;
use rawzip::{CompressionMethod, ZipArchive, ZipArchiveEntryWayfinder, ZipSliceArchive};

use super::Refused;

/// Most that a day file may unpack to, bytes: half an hour of 24 channels at 1 kHz is 0.2 GB, and a browser gives a
/// program 4 GB at most. Reading needs this much memory and one column more, and [`MAX_DAY_JSON`] up to 20 times.
pub const MAX_UNPACKED: u64 = 1 << 30;
/// Most that `day.json` may unpack to, bytes: hundreds of runs with their sheets.
pub const MAX_DAY_JSON: u64 = 16 << 20;
/// Most files in a day file: 300 logs of 64 channels.
pub const MAX_ENTRIES: usize = 20_000;
/// A file may unpack to this many times its size, where that is more than [`MAX_SMALL`]. Samples of real loggers come
/// down to a half or a tenth; a bomb of a megabyte must not take longer than its size warrants.
pub const MAX_RATIO: u64 = 250;
/// What any day file may unpack to, however small it is, bytes.
const MAX_SMALL: u64 = 64 << 20;

/// Most that a file of this size may unpack to, bytes.
pub(super) fn most_unpacked(size: usize) -> u64 {
    (size as u64).saturating_mul(MAX_RATIO).max(MAX_SMALL)
}

/// A ZIP in memory whose files can be taken out once each.
pub(super) struct Unzip<'a> {
    archive: ZipSliceArchive<&'a [u8]>,
    entries: HashMap<Vec<u8>, Entry>,
    /// What may still be unpacked, bytes.
    left: u64,
}

#[derive(Clone, Copy)]
struct Entry {
    wayfinder: ZipArchiveEntryWayfinder,
    method: CompressionMethod,
}

impl<'a> Unzip<'a> {
    /// The list of what is in a ZIP, nothing unpacked yet.
    ///
    /// # Errors
    /// No ZIP, more than [`MAX_ENTRIES`] files, two of one name or in one place, and more declared than `most`
    /// bytes or than its size allows.
    pub fn new(bytes: &'a [u8], most: u64) -> Result<Self, Refused> {
        let damaged = |error: rawzip::Error| refuse(format!("the ZIP is damaged ({error})"));
        let archive = ZipArchive::from_slice(bytes).map_err(damaged)?;
        let (mut found, mut places, mut declared) = (HashMap::new(), Vec::new(), 0_u64);
        let mut entries = archive.entries();
        while let Some(entry) = entries.next_entry().map_err(damaged)? {
            if found.len() == MAX_ENTRIES {
                return Err(refuse(format!("it holds more than {MAX_ENTRIES} files")));
            }
            let name = entry.file_path().as_bytes().to_vec();
            let local = archive.get_entry(entry.wayfinder()).map_err(damaged)?;
            places.push((entry.local_header_offset(), local.compressed_data_range().1));
            declared = declared.saturating_add(entry.uncompressed_size_hint());
            let entry = Entry { wayfinder: entry.wayfinder(), method: entry.compression_method() };
            if found.insert(name, entry).is_some() {
                return Err(refuse("it holds two files of one name"));
            }
        }
        places.sort_unstable();
        if places.windows(2).any(|pair| pair[1].0 < pair[0].1) {
            return Err(refuse("its files lie in one another"));
        }
        if declared > most {
            return Err(Refused::because(
                format!("it unpacks to {} MB, and {} MB is the most", declared >> 20, most >> 20),
                "open it on a larger computer, or ask for fewer runs",
            ));
        }
        if declared > most_unpacked(bytes.len()) {
            return Err(refuse(format!(
                "it claims to unpack to {} MB, more than its size allows",
                declared >> 20
            )));
        }
        Ok(Self { archive, entries: found, left: declared })
    }

    /// Takes a file out, no longer than `most` bytes.
    ///
    /// # Errors
    /// It is not there (any more), packed in a way that day files are not, longer than it or the ZIP may be,
    /// shorter than it says, or altered.
    pub fn take(&mut self, name: &str, most: u64) -> Result<Vec<u8>, Refused> {
        let Some(Entry { wayfinder, method }) = self.entries.remove(name.as_bytes()) else {
            return Err(refuse(format!("it has no file {name}")));
        };
        let length = wayfinder.uncompressed_size_hint();
        if length > most.min(self.left) {
            return Err(refuse(format!("{name} is longer than it may be")));
        }
        self.left -= length;
        let broken = |error: &dyn std::fmt::Display| refuse(format!("{name} is damaged ({error})"));
        let entry = self.archive.get_entry(wayfinder).map_err(|error| broken(&error))?;
        let mut unpacked = Vec::with_capacity(length as usize);
        // One byte more than declared is enough to see that there are more.
        let read = match method {
            CompressionMethod::STORE => {
                entry.verifying_reader(entry.data()).take(length + 1).read_to_end(&mut unpacked)
            }
            CompressionMethod::DEFLATE => {
                let inflated = DeflateDecoder::new(entry.data());
                entry.verifying_reader(inflated).take(length + 1).read_to_end(&mut unpacked)
            }
            other => return Err(refuse(format!("{name} is packed in a way not known here ({other})"))),
        };
        read.map_err(|error| broken(&error))?;
        if unpacked.len() as u64 != length {
            return Err(refuse(format!("{name} is not as long as it says")));
        }
        Ok(unpacked)
    }
}

fn refuse(problem: impl std::fmt::Display) -> Refused {
    Refused::because(format!("this day file cannot be read: {problem}"), "ask for the file again")
}
