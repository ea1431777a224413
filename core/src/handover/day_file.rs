//! A day with every sample, as a file that any language can read.
//!
//! It is a ZIP. `day.json` is a [`Manifest`]; each log has its time stamps in `logs/<n>/time.f64` (little-endian `f64`,
//! s) and its columns in `logs/<n>/<m>.f32` (little-endian `f32`, NaN where a sample is missing, `origin` to be
//! added). All are deflated.

use std::collections::BTreeSet;
use std::io::{self, Write};
use std::ops::ControlFlow;
use std::pin::pin;
use std::sync::Arc;
use std::task::{Context, Poll, Waker};

use flate2::Compression;
use flate2::write::DeflateEncoder;
use rawzip::{CompressionMethod, ZipArchiveWriter};

use super::unzip::{MAX_DAY_JSON, MAX_UNPACKED, Unzip, most_unpacked};
use super::{Manifest, Refused, Remarks, StoredSource};
use crate::day::Day;
use crate::source::Source;

/// How a ZIP begins.
/// How a ZIP with something in it begins (APPNOTE 4.3.7).
pub const ZIP_MARK: &[u8] = b"PK\x03\x04";

/// A day with its samples and what others say of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DayFile {
    /// Tells this day from any other, so that remarks come back to the right one; empty where it never left.
    pub id: String,
    /// It is somebody else's, to look at and to remark on.
    pub copy: bool,
    /// What is typed.
    pub day: Day,
    /// What others say.
    pub remarks: Remarks,
    /// What was measured.
    pub sources: Vec<Arc<Source>>,
}

impl DayFile {
    /// As the bytes of a file. The same day gives the same bytes.
    ///
    /// # Errors
    /// As [`Manifest::to_json`].
    pub fn write(&self) -> Result<Vec<u8>, Refused> {
        at_once(self.write_while(async |_| ControlFlow::Continue(()))).map(Option::unwrap_or_default)
    }

    /// [`write`](Self::write) for a worker: before each log `checkpoint` is awaited with the share that is done. `None`
    /// when it breaks off.
    ///
    /// # Errors
    /// As [`write`](Self::write).
    pub async fn write_while(
        &self,
        mut checkpoint: impl AsyncFnMut(f64) -> ControlFlow<()>,
    ) -> Result<Option<Vec<u8>>, Refused> {
        let json = self.manifest().to_json()?;
        let unpacked =
            json.len() as u64 + self.sources.iter().map(|source| sample_bytes(source)).sum::<u64>();
        let packed = self.pack(&json, CompressionMethod::DEFLATE, &mut checkpoint).await?;
        if packed.as_ref().is_none_or(|packed| unpacked <= most_unpacked(packed.len())) {
            return Ok(packed);
        }
        // Logs of next to nothing but blanks: packed as well as a bomb, they would be taken for one.
        self.pack(&json, CompressionMethod::STORE, &mut checkpoint).await
    }

    /// Adds the remarks of a copy that came back; returns how many are new. Nothing else is taken from it.
    ///
    /// # Errors
    /// Where it is a copy of another day.
    pub fn take_remarks(&mut self, back: &Self) -> Result<usize, Refused> {
        if back.id != self.id {
            return Err(Refused::because(
                format!("these remarks are on another day, {:?}", back.day.name),
                "open that day first",
            ));
        }
        Ok(self.remarks.merge(&back.remarks))
    }

    /// Everything but the samples.
    pub fn manifest(&self) -> Manifest {
        let stored = self.sources.iter().enumerate();
        Manifest {
            schema: super::SCHEMA,
            id: self.id.clone(),
            copy: self.copy,
            day: self.day.clone(),
            remarks: self.remarks.clone(),
            sources: stored.map(|(index, source)| StoredSource::of(index, source)).collect(),
        }
    }

    /// What a coach sends back: remarks, and of the day they are on no more than its name.
    pub fn of_remarks(id: &str, day: &str, remarks: Remarks) -> Self {
        let day = Day { name: day.to_owned(), ..Day::default() };
        Self { id: id.to_owned(), copy: true, day, remarks, sources: Vec::new() }
    }

    /// The same day with these runs alone, and with their logs only; remarks on others stay behind.
    pub fn only(&self, runs: &[usize]) -> Self {
        let mut part = self.clone();
        part.day.runs = runs.iter().filter_map(|&run| self.day.runs.get(run).cloned()).collect();
        part.day.coming.clear();
        let logs: BTreeSet<&str> =
            part.day.runs.iter().flat_map(|run| &run.logs).map(|log| log.file.as_str()).collect();
        part.sources.retain(|source| logs.contains(source.name.as_str()));
        part.remarks = self.remarks.on(&self.day, runs);
        part
    }

    async fn pack(
        &self,
        json: &[u8],
        method: CompressionMethod,
        checkpoint: &mut impl AsyncFnMut(f64) -> ControlFlow<()>,
    ) -> Result<Option<Vec<u8>>, Refused> {
        let failed = |error: io::Error| {
            Refused::because(format!("the day file cannot be made ({error})"), "try again")
        };
        let mut zip = ZipArchiveWriter::new(Vec::new());
        add(&mut zip, "day.json", method, json).map_err(failed)?;
        for (index, source) in self.sources.iter().enumerate() {
            if checkpoint(index as f64 / self.sources.len() as f64).await.is_break() {
                return Ok(None);
            }
            let stored = StoredSource::of(index, source);
            add(&mut zip, &stored.time, method, &little_endian(&source.time_s, f64::to_le_bytes))
                .map_err(failed)?;
            for (column, stored) in source.columns.iter().zip(&stored.columns) {
                let samples = little_endian(&column.values, f32::to_le_bytes);
                add(&mut zip, &stored.file, method, &samples).map_err(failed)?;
            }
        }
        zip.finish().map(Some).map_err(|error| failed(io::Error::other(error)))
    }

    /// Reads a day file, or bare `day.json` of any version, in no more memory than [`MAX_UNPACKED`] says.
    ///
    /// # Errors
    /// Where it is neither, damaged, cut off, newer than this program, or too large.
    pub fn read(bytes: &[u8]) -> Result<Self, Refused> {
        Self::read_within(bytes, MAX_UNPACKED)
    }

    /// [`read`](Self::read) where there is room for `most` bytes.
    ///
    /// # Errors
    /// As [`read`](Self::read).
    pub fn read_within(bytes: &[u8], most: u64) -> Result<Self, Refused> {
        at_once(Self::read_while(bytes, most, async |_| ControlFlow::Continue(())))
            .map(Option::unwrap_or_default)
    }

    /// [`read_within`](Self::read_within) for a worker: before each log `checkpoint` is awaited with the share that is
    /// done. `None` when it breaks off.
    ///
    /// # Errors
    /// As [`read`](Self::read).
    pub async fn read_while(
        bytes: &[u8],
        most: u64,
        checkpoint: impl AsyncFnMut(f64) -> ControlFlow<()>,
    ) -> Result<Option<Self>, Refused> {
        // A damaged one is to be told as such.
        if !bytes.starts_with(&ZIP_MARK[..2]) {
            if bytes.len() as u64 > MAX_DAY_JSON {
                return Err(Refused::because("this is no day file", "choose the file that was exported"));
            }
            let no_samples = |_: &str| {
                Err(Refused::because("this file has no samples with it", "export the day as a day file"))
            };
            return Self::of(Manifest::from_json(bytes)?, no_samples, checkpoint).await;
        }
        let mut zip = Unzip::new(bytes, most)?;
        let manifest = Manifest::from_json(&zip.take("day.json", MAX_DAY_JSON)?)?;
        Self::of(manifest, |name| zip.take(name, most), checkpoint).await
    }

    async fn of(
        manifest: Manifest,
        mut file: impl FnMut(&str) -> Result<Vec<u8>, Refused>,
        mut checkpoint: impl AsyncFnMut(f64) -> ControlFlow<()>,
    ) -> Result<Option<Self>, Refused> {
        let Manifest { id, copy, day, remarks, sources: stored, .. } = manifest;
        let (count, mut sources) = (stored.len(), Vec::new());
        for stored in stored {
            if checkpoint(sources.len() as f64 / count as f64).await.is_break() {
                return Ok(None);
            }
            let time_s = numbers(&file(&stored.time)?, f64::from_le_bytes);
            let columns = stored.columns.iter();
            let samples: Result<_, Refused> =
                columns.map(|column| Ok(numbers(&file(&column.file)?, f32::from_le_bytes))).collect();
            sources.push(Arc::new(stored.with_samples(time_s, samples?)?));
        }
        Ok(Some(Self { id, copy, day, remarks, sources }))
    }
}

/// Runs what never waits.
fn at_once<T>(work: impl Future<Output = T>) -> T {
    match pin!(work).poll(&mut Context::from_waker(Waker::noop())) {
        Poll::Ready(done) => done,
        Poll::Pending => unreachable!("the checkpoint does not wait"),
    }
}

fn sample_bytes(source: &Source) -> u64 {
    (source.time_s.len() * 8 + source.columns.iter().map(|column| column.values.len() * 4).sum::<usize>())
        as u64
}

fn add(
    zip: &mut ZipArchiveWriter<Vec<u8>>,
    name: &str,
    method: CompressionMethod,
    content: &[u8],
) -> io::Result<()> {
    let (mut entry, config) =
        zip.new_file(name).compression_method(method).start().map_err(io::Error::other)?;
    let descriptor = if method == CompressionMethod::DEFLATE {
        let mut packed = config.wrap(DeflateEncoder::new(&mut entry, Compression::fast()));
        packed.write_all(content)?;
        let (encoder, descriptor) = packed.finish().map_err(io::Error::other)?;
        encoder.finish()?;
        descriptor
    } else {
        let mut stored = config.wrap(&mut entry);
        stored.write_all(content)?;
        stored.finish().map_err(io::Error::other)?.1
    };
    entry.finish(descriptor).map_err(io::Error::other)?;
    Ok(())
}

fn little_endian<T: Copy, const N: usize>(numbers: &[T], bytes: fn(T) -> [u8; N]) -> Vec<u8> {
    numbers.iter().flat_map(|&number| bytes(number)).collect()
}

/// A file that was cut shows in the count.
fn numbers<T, const N: usize>(bytes: &[u8], number: fn([u8; N]) -> T) -> Vec<T> {
    bytes.as_chunks::<N>().0.iter().map(|chunk| number(*chunk)).collect()
}
