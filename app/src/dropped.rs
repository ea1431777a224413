//! The files of a drop, folders opened.

use gloo_file::File;
use js_sys::{Array, Function, Promise};
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::JsFuture;
use web_sys::{DragEvent, FileSystemDirectoryEntry, FileSystemEntry, FileSystemFileEntry};

use crate::day::list_files;

/// Every file of a drop, those in folders included, by name.
///
/// # Errors
/// A sentence, if the browser does not hand a file over.
pub async fn files_of(event: &DragEvent) -> Result<Vec<File>, String> {
    let Some(data) = event.data_transfer() else { return Ok(Vec::new()) };
    // Entries must be taken before the first await: the drop is over afterwards.
    let items = data.items();
    let mut entries: Vec<FileSystemEntry> =
        (0..items.length()).filter_map(|i| items.get(i)?.webkit_get_as_entry().ok().flatten()).collect();
    if entries.is_empty() {
        return Ok(data.files().map(|list| list_files(&list)).unwrap_or_default());
    }
    let mut files = Vec::new();
    while let Some(entry) = entries.pop() {
        let failed = |error: JsValue| {
            format!("{} cannot be read ({error:?}); choose it with the button", entry.name())
        };
        if entry.is_file() {
            let file = called_back(|done, failed| {
                entry.unchecked_ref::<FileSystemFileEntry>().file_with_callback_and_callback(done, failed);
            });
            files.push(File::from(file.await.map_err(failed)?.unchecked_into::<web_sys::File>()));
        } else {
            let reader = entry.unchecked_ref::<FileSystemDirectoryEntry>().create_reader();
            // A folder comes in batches; an empty one ends it.
            loop {
                let batch = called_back(|done, failed| {
                    let _ = reader.read_entries_with_callback_and_callback(done, failed);
                });
                let batch: Array = batch.await.map_err(failed)?.unchecked_into();
                if batch.length() == 0 {
                    break;
                }
                entries.extend(batch.iter().map(JsCast::unchecked_into::<FileSystemEntry>));
            }
        }
    }
    files.sort_by_key(File::name);
    Ok(files)
}

/// Awaits an old interface that takes two callbacks.
async fn called_back(start: impl Fn(&Function, &Function)) -> Result<JsValue, JsValue> {
    JsFuture::from(Promise::new(&mut |done, failed| start(&done, &failed))).await
}
