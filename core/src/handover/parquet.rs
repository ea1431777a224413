//! The archive as an Apache Parquet file, one row a number, for whole-season questions in any SQL engine.
//!
//! | column | type | what it is |
//! | --- | --- | --- |
//! | `day` | string | what the day was called |
//! | `date` | string | its date, ISO 8601 |
//! | `run_number` | int32 | place of the run in its day, from 1 |
//! | `run` | string | name of the run |
//! | `setup` | string | name of the set-up; the same name is the same set-up within a day |
//! | `section` | string | name of the section, `run` for the whole run |
//! | `metric` | string | key of the number in the read-out (`rear.not_recovered_share`) |
//! | `value` | float | the number, SI |
//!
//! No column is ever null: what was not measured has no row. Written by the format's specification (parquet-format 2.11):
//! one row group, plain encoding, pages of version 1 packed by gzip, the metadata in Thrift's compact protocol.

use std::io::Write;

use flate2::Compression;
use flate2::write::GzEncoder;

use super::Refused;
use super::thrift::Thrift;
use crate::decide::Archive;

const MARK: &[u8] = b"PAR1";
/// Rows of a page, so that no page grows beyond what readers expect.
const PAGE_ROWS: usize = 20_000;
// Numbers of the specification's enumerations.
const INT32: i64 = 1;
const FLOAT: i64 = 4;
const BYTE_ARRAY: i64 = 6;
const REQUIRED: i64 = 0;
const UTF8: i64 = 0;
const PLAIN: i64 = 0;
const RLE: i64 = 3;
const GZIP: i64 = 2;
const DATA_PAGE: i64 = 0;

/// One column: its name, its physical type, its values in plain encoding, and where each row begins.
struct Column {
    name: &'static str,
    kind: i64,
    bytes: Vec<u8>,
    starts: Vec<usize>,
}

/// A column as it lies in the file.
struct Chunk {
    start: u64,
    packed: u64,
    unpacked: u64,
}

impl Column {
    fn new(name: &'static str, kind: i64) -> Self {
        Self { name, kind, bytes: Vec::new(), starts: Vec::new() }
    }

    fn push(&mut self, value: &[u8]) {
        self.starts.push(self.bytes.len());
        if self.kind == BYTE_ARRAY {
            self.bytes.extend((value.len() as u32).to_le_bytes());
        }
        self.bytes.extend(value);
    }

    /// Its pages, one after another.
    fn write(&self, file: &mut Vec<u8>) -> std::io::Result<Chunk> {
        let (start, mut unpacked) = (file.len(), 0);
        let rows = self.starts.len();
        for from in (0..rows.max(1)).step_by(PAGE_ROWS) {
            let to = (from + PAGE_ROWS).min(rows);
            let begin = |row: usize| self.starts.get(row).copied().unwrap_or(self.bytes.len());
            let values = self.bytes.get(begin(from)..begin(to)).unwrap_or_default();
            let mut gzip = GzEncoder::new(Vec::new(), Compression::default());
            gzip.write_all(values)?;
            let packed = gzip.finish()?;
            let mut header = Thrift::default();
            header.int32(1, DATA_PAGE);
            header.int32(2, values.len() as i64);
            header.int32(3, packed.len() as i64);
            header.structure(5, |page| {
                page.int32(1, (to - from) as i64);
                page.int32(2, PLAIN);
                page.int32(3, RLE);
                page.int32(4, RLE);
            });
            let header = header.finish();
            unpacked += header.len() + values.len();
            file.extend(header);
            file.extend(packed);
        }
        Ok(Chunk { start: start as u64, packed: (file.len() - start) as u64, unpacked: unpacked as u64 })
    }
}

/// The archive as the bytes of a Parquet file.
///
/// # Errors
/// An archive too large for the format's 32-bit sizes.
pub fn parquet(archive: &Archive) -> Result<Vec<u8>, Refused> {
    let failed = |_| Refused::because("the archive cannot be written", "take fewer days");
    let [mut day_name, mut date, mut run_name, mut setup, mut section_name, mut metric] =
        ["day", "date", "run", "setup", "section", "metric"].map(|name| Column::new(name, BYTE_ARRAY));
    let (mut number, mut value) = (Column::new("run_number", INT32), Column::new("value", FLOAT));
    for day in &archive.days {
        for (run, place) in day.runs.iter().zip(1_i32..) {
            for section in &run.sections {
                for (key, measured) in &section.numbers {
                    day_name.push(day.name.as_bytes());
                    date.push(day.date.as_bytes());
                    number.push(&place.to_le_bytes());
                    run_name.push(run.run.as_bytes());
                    setup.push(run.setup.as_bytes());
                    section_name.push(section.name.as_bytes());
                    metric.push(key.as_bytes());
                    value.push(&measured.to_le_bytes());
                }
            }
        }
    }
    let columns = [day_name, date, number, run_name, setup, section_name, metric, value];
    let mut file = MARK.to_vec();
    let chunks = columns.iter().map(|column| column.write(&mut file)).collect::<Result<Vec<_>, _>>();
    let chunks = chunks.map_err(failed)?;
    let footer = footer(&columns, &chunks);
    let length = u32::try_from(footer.len()).map_err(|_| failed(std::io::Error::other("footer")))?;
    if i32::try_from(file.len()).is_err() {
        return Err(failed(std::io::Error::other("size")));
    }
    file.extend(footer);
    file.extend(length.to_le_bytes());
    file.extend(MARK);
    Ok(file)
}

/// `FileMetaData` of the specification.
fn footer(columns: &[Column], chunks: &[Chunk]) -> Vec<u8> {
    let rows = columns.first().map_or(0, |column| column.starts.len()) as i64;
    let mut footer = Thrift::default();
    footer.int32(1, 1);
    footer.structures(2, columns.len() + 1, |element, index| {
        match index.checked_sub(1).and_then(|i| columns.get(i)) {
            None => {
                element.text(4, "archive");
                element.int32(5, columns.len() as i64);
            }
            Some(column) => {
                element.int32(1, column.kind);
                element.int32(3, REQUIRED);
                element.text(4, column.name);
                if column.kind == BYTE_ARRAY {
                    element.int32(6, UTF8);
                }
            }
        }
    });
    footer.int64(3, rows);
    footer.structures(4, 1, |group, _| {
        group.structures(1, columns.len(), |described, index| {
            let (Some(column), Some(chunk)) = (columns.get(index), chunks.get(index)) else { return };
            described.int64(2, chunk.start as i64);
            described.structure(3, |meta| {
                meta.int32(1, column.kind);
                meta.int32s(2, &[PLAIN, RLE]);
                meta.texts(3, &[column.name]);
                meta.int32(4, GZIP);
                meta.int64(5, rows);
                meta.int64(6, chunk.unpacked as i64);
                meta.int64(7, chunk.packed as i64);
                meta.int64(9, chunk.start as i64);
            });
        });
        group.int64(2, chunks.iter().map(|chunk| chunk.unpacked as i64).sum());
        group.int64(3, rows);
    });
    footer.text(6, "evenkeel");
    footer.finish()
}
