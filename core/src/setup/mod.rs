//! The written state of the bike for one run, what changed from run to run, and the runs that are still to come.
//!
//! Numbers are kept as typed, in the unit their owner chose; SI is asked of them where it is needed. Clicks are
//! counted from fully closed, where every adjuster has its one sure end.

mod budget;
mod change;
mod doubt;
mod entry;
mod item;
mod named_plan;
mod ridden;
mod sheet;

pub use budget::{Descent, WayBack};
pub use change::{Change, ChangeKind, changes};
pub use doubt::{CAUTIONS, caution, doubt};
pub use entry::{Entry, SheetUnit, Typed};
pub use item::{Item, Part};
pub use named_plan::{Named, NamedPlan};
pub use ridden::{AskedBetween, RiddenSetup};
pub use sheet::{FreeLine, SetupSheet};
