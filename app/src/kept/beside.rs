//! Days that are kept and not open.

use evenkeel_core::handover::{Manifest, Remarks};
use gloo_file::File;

use super::database::NotKept;
use super::list::database;
use super::{new_key, read, record};
use crate::store::Store;

/// Puts a day that came from elsewhere among the kept ones, with the file that its samples are in, and gives its key.
/// One that is known by its key already stays as it is.
///
/// # Errors
/// A sentence, if the browser does not keep it.
pub async fn keep_beside(
    store: Store,
    key: Option<String>,
    day: &Manifest,
    file: Option<&File>,
) -> Result<String, String> {
    let told = |problem| match problem {
        NotKept::Refused(why) => format!("this browser refuses to keep it ({why})"),
        NotKept::Elsewhere => "another tab has changed it".to_owned(),
    };
    let database = database(store).ok_or("this browser keeps nothing")?;
    let key = key.unwrap_or_else(new_key);
    if database.revision(&key).await.map_err(told)? > 0.0 {
        return Ok(key);
    }
    let kept = record(key.clone(), 0.0, day)?;
    // The file first: a day without its samples is none.
    if let Some(file) = file {
        database.keep_file(&key, file, None).await.map_err(told)?;
    }
    if let Err(problem) = database.keep_day(&kept).await {
        let _ = database.forget(&key).await;
        return Err(told(problem));
    }
    Ok(key)
}

/// The key of the kept day that others know by this id: of one's own, else of a copy.
pub async fn known(store: Store, id: &str) -> Option<(String, bool)> {
    let days = database(store)?.days().await.ok()?;
    let of_id = |copy: bool| days.iter().find(|day| !id.is_empty() && day.id == id && day.copy == copy);
    of_id(false).or_else(|| of_id(true)).map(|day| (day.key.clone(), day.copy))
}

/// Whether a day is kept by this key.
pub async fn is_kept(store: Store, key: &str) -> bool {
    match database(store) {
        Some(database) => database.revision(key).await.is_ok_and(|revision| revision > 0.0),
        None => false,
    }
}

/// Adds remarks to a kept day that is not open; gives its title and how many are new.
///
/// # Errors
/// A sentence, if it cannot be read or kept.
pub async fn add_remarks(store: Store, key: &str, remarks: &Remarks) -> Result<(String, usize), String> {
    let database = database(store).ok_or("this browser keeps nothing")?;
    let days = database.days().await.map_err(|_| "the kept days cannot be read".to_owned())?;
    let kept = days.into_iter().find(|day| day.key == key).ok_or("that day is not kept any more")?;
    let mut day = read(store, kept.json, Vec::new()).await?.manifest;
    let new = day.remarks.merge(remarks);
    let changed = record(kept.key, kept.revision, &day)?;
    match database.keep_day(&changed).await {
        Ok(_) => Ok((kept.title, new)),
        Err(NotKept::Refused(why)) => Err(format!("this browser refuses ({why})")),
        Err(NotKept::Elsewhere) => Err("another tab has changed that day; try again".to_owned()),
    }
}
