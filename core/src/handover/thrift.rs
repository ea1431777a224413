//! As much of Apache Thrift's compact protocol as a Parquet file's metadata needs.

use super::link::write_unsigned;

const I32: u8 = 5;
const I64: u8 = 6;
const BINARY: u8 = 8;
const LIST: u8 = 9;
const STRUCT: u8 = 12;

/// A structure being written, its fields in rising order.
#[derive(Default)]
pub struct Thrift {
    bytes: Vec<u8>,
    field: u8,
}

impl Thrift {
    pub fn int32(&mut self, field: u8, value: i64) {
        self.begin(field, I32);
        self.number(value);
    }

    pub fn int64(&mut self, field: u8, value: i64) {
        self.begin(field, I64);
        self.number(value);
    }

    pub fn text(&mut self, field: u8, text: &str) {
        self.begin(field, BINARY);
        self.binary(text);
    }

    pub fn structure(&mut self, field: u8, write: impl FnOnce(&mut Self)) {
        self.begin(field, STRUCT);
        let mut inner = Self::default();
        write(&mut inner);
        self.bytes.extend(inner.finish());
    }

    pub fn structures(&mut self, field: u8, count: usize, mut write: impl FnMut(&mut Self, usize)) {
        self.list(field, count, STRUCT);
        for index in 0..count {
            let mut inner = Self::default();
            write(&mut inner, index);
            self.bytes.extend(inner.finish());
        }
    }

    pub fn int32s(&mut self, field: u8, values: &[i64]) {
        self.list(field, values.len(), I32);
        values.iter().for_each(|&value| self.number(value));
    }

    pub fn texts(&mut self, field: u8, texts: &[&str]) {
        self.list(field, texts.len(), BINARY);
        texts.iter().for_each(|text| self.binary(text));
    }

    /// Its bytes, with the stop field.
    pub fn finish(mut self) -> Vec<u8> {
        self.bytes.push(0);
        self.bytes
    }

    fn begin(&mut self, field: u8, kind: u8) {
        debug_assert!(field > self.field && field - self.field < 16);
        self.bytes.push((field - self.field) << 4 | kind);
        self.field = field;
    }

    fn list(&mut self, field: u8, count: usize, kind: u8) {
        self.begin(field, LIST);
        if count < 15 {
            self.bytes.push((count as u8) << 4 | kind);
        } else {
            self.bytes.push(0xf0 | kind);
            write_unsigned(count as u64, &mut self.bytes);
        }
    }

    fn number(&mut self, value: i64) {
        write_unsigned(((value << 1) ^ (value >> 63)) as u64, &mut self.bytes);
    }

    fn binary(&mut self, text: &str) {
        write_unsigned(text.len() as u64, &mut self.bytes);
        self.bytes.extend(text.as_bytes());
    }
}
