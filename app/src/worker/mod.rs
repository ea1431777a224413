//! The worker that keeps long work off the page's thread.
//!
//! A message posted right after [`Client::start`] waits until the worker listens.

mod client;
mod desk;
mod handed;
mod laid;
mod outside;
mod picture;
mod pieces;
mod protocol;
mod shelf;
mod track;

pub use client::{Answer, Client, Events, Failure, Known, heard, said};
pub use desk::answer;
pub use outside::Worker;
pub use protocol::{
    Analysed, DayRead, EarlierDay, GivenPlace, KeptDay, LaidOver, LaidSection, LinkRead, Made, Opened,
    Picture, PlacedSection, PlacesFound, Progress, Request, SectionsRead, Series, SourceInfo, Table,
    TrackAnswer, Written,
};
