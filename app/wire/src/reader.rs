//! Bytes to values.

use serde::de::{
    DeserializeSeed, Deserializer, EnumAccess, IntoDeserializer, MapAccess, SeqAccess, VariantAccess, Visitor,
};
use serde::forward_to_deserialize_any;

use crate::Mismatch;

/// What is not read yet.
pub struct Reader<'de> {
    pub rest: &'de [u8],
}

impl<'de> Reader<'de> {
    fn take(&mut self, length: usize) -> Result<&'de [u8], Mismatch> {
        let (taken, rest) = self.rest.split_at_checked(length).ok_or(Mismatch)?;
        self.rest = rest;
        Ok(taken)
    }

    fn array<const N: usize>(&mut self) -> Result<[u8; N], Mismatch> {
        self.take(N)?.try_into().map_err(|_| Mismatch)
    }

    fn whole(&mut self) -> Result<u64, Mismatch> {
        self.array().map(u64::from_le_bytes)
    }

    fn signed(&mut self) -> Result<i64, Mismatch> {
        self.array().map(i64::from_le_bytes)
    }

    fn count(&mut self) -> Result<usize, Mismatch> {
        usize::try_from(self.whole()?).map_err(|_| Mismatch)
    }

    fn bytes(&mut self) -> Result<&'de [u8], Mismatch> {
        let length = self.count()?;
        self.take(length)
    }

    fn text(&mut self) -> Result<&'de str, Mismatch> {
        std::str::from_utf8(self.bytes()?).map_err(|_| Mismatch)
    }

    /// Whether there is something, or nothing.
    fn is_there(&mut self) -> Result<bool, Mismatch> {
        match self.array()? {
            [0] => Ok(false),
            [1] => Ok(true),
            _ => Err(Mismatch),
        }
    }
}

/// Whole numbers that are written as 8 bytes.
macro_rules! whole {
    ($($deserialize:ident $visit:ident $read:ident),*) => {
        $(fn $deserialize<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
            visitor.$visit(self.$read()?.try_into().map_err(|_| Mismatch)?)
        })*
    };
}

impl<'de> Deserializer<'de> for &mut Reader<'de> {
    type Error = Mismatch;

    fn is_human_readable(&self) -> bool {
        false
    }

    whole!(
        deserialize_i8 visit_i8 signed, deserialize_i16 visit_i16 signed, deserialize_i32 visit_i32 signed,
        deserialize_u16 visit_u16 whole, deserialize_u32 visit_u32 whole
    );

    fn deserialize_i64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        visitor.visit_i64(self.signed()?)
    }

    fn deserialize_u64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        visitor.visit_u64(self.whole()?)
    }

    fn deserialize_u8<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        let [byte] = self.array()?;
        visitor.visit_u8(byte)
    }

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        visitor.visit_bool(self.is_there()?)
    }

    fn deserialize_f32<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        visitor.visit_f32(f32::from_le_bytes(self.array()?))
    }

    fn deserialize_f64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        visitor.visit_f64(f64::from_le_bytes(self.array()?))
    }

    fn deserialize_char<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        let number = u32::try_from(self.whole()?).map_err(|_| Mismatch)?;
        visitor.visit_char(char::from_u32(number).ok_or(Mismatch)?)
    }

    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        visitor.visit_borrowed_str(self.text()?)
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        visitor.visit_borrowed_str(self.text()?)
    }

    fn deserialize_bytes<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        visitor.visit_borrowed_bytes(self.bytes()?)
    }

    fn deserialize_byte_buf<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        visitor.visit_borrowed_bytes(self.bytes()?)
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        if self.is_there()? { visitor.visit_some(self) } else { visitor.visit_none() }
    }

    fn deserialize_unit<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        visitor.visit_unit()
    }

    fn deserialize_unit_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, Mismatch> {
        visitor.visit_unit()
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, Mismatch> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        let left = self.count()?;
        visitor.visit_seq(Many { reader: self, left })
    }

    fn deserialize_tuple<V: Visitor<'de>>(self, length: usize, visitor: V) -> Result<V::Value, Mismatch> {
        visitor.visit_seq(Many { reader: self, left: length })
    }

    fn deserialize_tuple_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        length: usize,
        visitor: V,
    ) -> Result<V::Value, Mismatch> {
        visitor.visit_seq(Many { reader: self, left: length })
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Mismatch> {
        let left = self.count()?;
        visitor.visit_map(Many { reader: self, left })
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Mismatch> {
        visitor.visit_seq(Fields(self))
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Mismatch> {
        visitor.visit_enum(self)
    }

    fn deserialize_any<V: Visitor<'de>>(self, _: V) -> Result<V::Value, Mismatch> {
        Err(Mismatch)
    }

    forward_to_deserialize_any! { identifier ignored_any }
}

/// A list, or a map.
struct Many<'a, 'de> {
    reader: &'a mut Reader<'de>,
    left: usize,
}

impl Many<'_, '_> {
    fn next(&mut self) -> bool {
        let is_next = self.left > 0;
        self.left = self.left.saturating_sub(1);
        is_next
    }

    /// Memory is set aside for no more than there can be.
    fn hint(&self) -> Option<usize> {
        Some(self.left.min(self.reader.rest.len()))
    }
}

impl<'de> SeqAccess<'de> for Many<'_, 'de> {
    type Error = Mismatch;

    fn next_element_seed<T: DeserializeSeed<'de>>(&mut self, seed: T) -> Result<Option<T::Value>, Mismatch> {
        if self.next() { seed.deserialize(&mut *self.reader).map(Some) } else { Ok(None) }
    }

    fn size_hint(&self) -> Option<usize> {
        self.hint()
    }
}

impl<'de> MapAccess<'de> for Many<'_, 'de> {
    type Error = Mismatch;

    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, Mismatch> {
        if self.next() { seed.deserialize(&mut *self.reader).map(Some) } else { Ok(None) }
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, Mismatch> {
        seed.deserialize(&mut *self.reader)
    }

    fn size_hint(&self) -> Option<usize> {
        self.hint()
    }
}

/// A struct: what is left out of it has a default.
struct Fields<'a, 'de>(&'a mut Reader<'de>);

impl<'de> SeqAccess<'de> for Fields<'_, 'de> {
    type Error = Mismatch;

    fn next_element_seed<T: DeserializeSeed<'de>>(&mut self, seed: T) -> Result<Option<T::Value>, Mismatch> {
        if self.0.is_there()? { seed.deserialize(&mut *self.0).map(Some) } else { Ok(None) }
    }
}

impl<'de> EnumAccess<'de> for &mut Reader<'de> {
    type Error = Mismatch;
    type Variant = Self;

    fn variant_seed<V: DeserializeSeed<'de>>(self, seed: V) -> Result<(V::Value, Self), Mismatch> {
        let index = u32::try_from(self.whole()?).map_err(|_| Mismatch)?;
        let variant = seed.deserialize(IntoDeserializer::<Mismatch>::into_deserializer(index))?;
        Ok((variant, self))
    }
}

impl<'de> VariantAccess<'de> for &mut Reader<'de> {
    type Error = Mismatch;

    fn unit_variant(self) -> Result<(), Mismatch> {
        Ok(())
    }

    fn newtype_variant_seed<T: DeserializeSeed<'de>>(self, seed: T) -> Result<T::Value, Mismatch> {
        seed.deserialize(self)
    }

    fn tuple_variant<V: Visitor<'de>>(self, length: usize, visitor: V) -> Result<V::Value, Mismatch> {
        self.deserialize_tuple(length, visitor)
    }

    fn struct_variant<V: Visitor<'de>>(
        self,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Mismatch> {
        visitor.visit_seq(Fields(self))
    }
}
