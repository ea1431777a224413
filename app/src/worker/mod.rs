//! The worker that keeps long work off the page's thread.
//!
//! A message posted right after [`Client::start`] waits until the worker listens.

mod client;
mod desk;
mod laid;
mod outside;
mod picture;
mod protocol;
mod track;
mod warm;

pub use client::{Client, Failure};
pub use desk::answer;
pub use protocol::{
    Analysed, EarlierDay, GivenPlace, LaidOver, LaidSection, Opened, Picture, PlacedSection, PlacesFound,
    Progress, Request, SectionsRead, Series, SourceInfo, TrackAnswer,
};
