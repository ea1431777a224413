//! Files in and out of the worker's memory.

use evenkeel_core::handover::MAX_UNPACKED;
use js_sys::{Array, Uint8Array};
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::JsFuture;
use web_sys::Blob;

use super::desk::Stop;

/// A piece of a file that the browser is fetching.
pub struct Piece(JsFuture);

impl Piece {
    /// Asks for the bytes `from..to`.
    pub fn ask(file: &Blob, from: f64, to: f64) -> Result<Self, Stop> {
        let piece = file.slice_with_f64_and_f64(from, to).map_err(unreadable)?;
        Ok(Self(JsFuture::from(piece.array_buffer())))
    }

    /// Puts it in place of what is in `bytes`.
    pub async fn take(self, bytes: &mut Vec<u8>) -> Result<(), Stop> {
        let piece = Uint8Array::new(&self.0.await.map_err(unreadable)?);
        bytes.resize(piece.length() as usize, 0);
        piece.copy_to(bytes);
        Ok(())
    }
}

/// Bytes `from..to` of a file.
pub async fn bytes(file: &Blob, from: f64, to: f64) -> Result<Vec<u8>, Stop> {
    let mut bytes = Vec::new();
    Piece::ask(file, from, to)?.take(&mut bytes).await?;
    Ok(bytes)
}

/// A file in memory.
pub async fn whole(file: &Blob, name: &str) -> Result<Vec<u8>, Stop> {
    if file.size() > MAX_UNPACKED as f64 {
        return Err(Stop::Problem(format!(
            "{name} has {:.0} MB, and {} MB is the most that a day file may have; ask for fewer runs",
            file.size() / 1e6,
            MAX_UNPACKED / 1_000_000
        )));
    }
    bytes(file, 0.0, file.size()).await
}

/// Bytes as a file, out of this module's memory.
pub fn blob(bytes: &[u8]) -> Result<Blob, Stop> {
    let parts = Array::of1(&Uint8Array::from(bytes));
    Blob::new_with_u8_array_sequence(&parts).map_err(|error| {
        Stop::Problem(format!("the file cannot be made ({error:?}); free some memory and try again"))
    })
}

fn unreadable(error: JsValue) -> Stop {
    Stop::Problem(format!("the file cannot be read any more ({error:?}); choose it again"))
}
