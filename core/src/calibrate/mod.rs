//! From raw columns to quantities of the bike: how sensors are fitted, and what they read at rest.

mod apply;
mod find_mount;
mod inertial;
mod linkage;
mod mount;
mod pchip;
mod response;
mod still;
mod wheel;

pub use apply::{Calibrated, Unusable, calibrate};
pub use find_mount::{FoundMount, MountUndecided};
pub use inertial::Inertial;
pub use linkage::{Linkage, LinkageError};
pub use mount::{Mount, MountTextError};
pub use pchip::{MonotoneCubic, TableError};
pub use response::Response;
pub use still::{GyroBias, gyro_bias, still_stretches};
pub(crate) use wheel::ROWS_MIN;
pub use wheel::speed_from_pulses;
