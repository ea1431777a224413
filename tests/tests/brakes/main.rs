//! Brakes, dive and the rider's arms: on logs made by hand, beside NumPy and SciPy, and on the simulated
//! bike.

mod by_hand;
mod made_log;
mod missing;
mod simulated_ride;
