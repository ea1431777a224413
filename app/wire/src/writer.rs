//! Values to bytes.

use std::fmt::Display;

use serde::ser::{
    Serialize, SerializeMap, SerializeSeq, SerializeStruct, SerializeStructVariant, SerializeTuple,
    SerializeTupleStruct, SerializeTupleVariant, Serializer,
};

use crate::Mismatch;

/// What is written so far.
#[derive(Default)]
pub struct Writer {
    pub bytes: Vec<u8>,
    /// A number was none, or infinite.
    pub not_finite: bool,
}

impl Writer {
    fn put(&mut self, bytes: &[u8]) {
        self.bytes.extend_from_slice(bytes);
    }

    fn whole(&mut self, number: u64) {
        self.put(&number.to_le_bytes());
    }

    fn text(&mut self, text: &[u8]) {
        self.whole(text.len() as u64);
        self.put(text);
    }
}

type Written = Result<(), Mismatch>;

impl<'a> Serializer for &'a mut Writer {
    type Ok = ();
    type Error = Mismatch;
    type SerializeSeq = Many<'a>;
    type SerializeMap = Many<'a>;
    type SerializeTuple = Self;
    type SerializeTupleStruct = Self;
    type SerializeTupleVariant = Self;
    type SerializeStruct = Self;
    type SerializeStructVariant = Self;

    fn is_human_readable(&self) -> bool {
        false
    }

    fn serialize_bool(self, value: bool) -> Written {
        self.serialize_u8(value.into())
    }

    fn serialize_i8(self, value: i8) -> Written {
        self.serialize_i64(value.into())
    }

    fn serialize_i16(self, value: i16) -> Written {
        self.serialize_i64(value.into())
    }

    fn serialize_i32(self, value: i32) -> Written {
        self.serialize_i64(value.into())
    }

    fn serialize_i64(self, value: i64) -> Written {
        self.put(&value.to_le_bytes());
        Ok(())
    }

    fn serialize_u8(self, value: u8) -> Written {
        self.bytes.push(value);
        Ok(())
    }

    fn serialize_u16(self, value: u16) -> Written {
        self.serialize_u64(value.into())
    }

    fn serialize_u32(self, value: u32) -> Written {
        self.serialize_u64(value.into())
    }

    fn serialize_u64(self, value: u64) -> Written {
        self.whole(value);
        Ok(())
    }

    fn serialize_f32(self, value: f32) -> Written {
        self.not_finite |= !value.is_finite();
        self.put(&value.to_le_bytes());
        Ok(())
    }

    fn serialize_f64(self, value: f64) -> Written {
        self.not_finite |= !value.is_finite();
        self.put(&value.to_le_bytes());
        Ok(())
    }

    fn serialize_char(self, value: char) -> Written {
        self.serialize_u32(value.into())
    }

    fn serialize_str(self, value: &str) -> Written {
        self.text(value.as_bytes());
        Ok(())
    }

    fn serialize_bytes(self, value: &[u8]) -> Written {
        self.text(value);
        Ok(())
    }

    fn serialize_none(self) -> Written {
        self.serialize_u8(0)
    }

    fn serialize_some<T: Serialize + ?Sized>(self, value: &T) -> Written {
        self.bytes.push(1);
        value.serialize(self)
    }

    fn serialize_unit(self) -> Written {
        Ok(())
    }

    fn serialize_unit_struct(self, _: &'static str) -> Written {
        Ok(())
    }

    fn serialize_unit_variant(self, _: &'static str, index: u32, _: &'static str) -> Written {
        self.serialize_u32(index)
    }

    fn serialize_newtype_struct<T: Serialize + ?Sized>(self, _: &'static str, value: &T) -> Written {
        value.serialize(self)
    }

    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        self,
        _: &'static str,
        index: u32,
        _: &'static str,
        value: &T,
    ) -> Written {
        self.whole(index.into());
        value.serialize(self)
    }

    fn serialize_seq(self, _: Option<usize>) -> Result<Many<'a>, Mismatch> {
        Ok(Many::begin(self))
    }

    fn serialize_tuple(self, _: usize) -> Result<Self, Mismatch> {
        Ok(self)
    }

    fn serialize_tuple_struct(self, _: &'static str, _: usize) -> Result<Self, Mismatch> {
        Ok(self)
    }

    fn serialize_tuple_variant(
        self,
        _: &'static str,
        index: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self, Mismatch> {
        self.whole(index.into());
        Ok(self)
    }

    fn serialize_map(self, _: Option<usize>) -> Result<Many<'a>, Mismatch> {
        Ok(Many::begin(self))
    }

    fn serialize_struct(self, _: &'static str, _: usize) -> Result<Self, Mismatch> {
        Ok(self)
    }

    fn serialize_struct_variant(
        self,
        _: &'static str,
        index: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self, Mismatch> {
        self.whole(index.into());
        Ok(self)
    }

    fn collect_str<T: Display + ?Sized>(self, value: &T) -> Written {
        self.serialize_str(&value.to_string())
    }
}

/// A list or a map that is being written: how many there are stands before them, and is known after them.
pub struct Many<'a> {
    writer: &'a mut Writer,
    start: usize,
    count: u64,
}

impl<'a> Many<'a> {
    fn begin(writer: &'a mut Writer) -> Self {
        let start = writer.bytes.len();
        writer.whole(0);
        Self { writer, start, count: 0 }
    }

    fn finish(self) -> Written {
        let count = self.count.to_le_bytes();
        let at = self.writer.bytes.get_mut(self.start..self.start + count.len()).ok_or(Mismatch)?;
        at.copy_from_slice(&count);
        Ok(())
    }
}

impl SerializeSeq for Many<'_> {
    type Ok = ();
    type Error = Mismatch;

    fn serialize_element<T: Serialize + ?Sized>(&mut self, value: &T) -> Written {
        self.count += 1;
        value.serialize(&mut *self.writer)
    }

    fn end(self) -> Written {
        self.finish()
    }
}

impl SerializeMap for Many<'_> {
    type Ok = ();
    type Error = Mismatch;

    fn serialize_key<T: Serialize + ?Sized>(&mut self, key: &T) -> Written {
        self.count += 1;
        key.serialize(&mut *self.writer)
    }

    fn serialize_value<T: Serialize + ?Sized>(&mut self, value: &T) -> Written {
        value.serialize(&mut *self.writer)
    }

    fn end(self) -> Written {
        self.finish()
    }
}

/// One after the other.
macro_rules! tuple {
    ($part:ident, $add:ident) => {
        impl $part for &mut Writer {
            type Ok = ();
            type Error = Mismatch;

            fn $add<T: Serialize + ?Sized>(&mut self, value: &T) -> Written {
                value.serialize(&mut **self)
            }

            fn end(self) -> Written {
                Ok(())
            }
        }
    };
}

tuple!(SerializeTuple, serialize_element);
tuple!(SerializeTupleStruct, serialize_field);
tuple!(SerializeTupleVariant, serialize_field);

/// One after the other, some left out.
macro_rules! fields {
    ($part:ident) => {
        impl $part for &mut Writer {
            type Ok = ();
            type Error = Mismatch;

            fn serialize_field<T: Serialize + ?Sized>(&mut self, _: &'static str, value: &T) -> Written {
                self.serialize_some(value)
            }

            fn skip_field(&mut self, _: &'static str) -> Written {
                self.serialize_none()
            }

            fn end(self) -> Written {
                Ok(())
            }
        }
    };
}

fields!(SerializeStruct);
fields!(SerializeStructVariant);
