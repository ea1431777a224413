//! Prints the truth of one of the day's runs as CSV: `cargo run --release -p evenkeel-demo-data --example truth -- 1`.

use std::io::{self, BufWriter, Write};

use evenkeel_demo_data::day::plans;
use evenkeel_demo_data::truth::RECORD_HZ;

fn main() -> io::Result<()> {
    let number: usize = std::env::args().nth(1).and_then(|text| text.parse().ok()).unwrap_or(1);
    let plans = plans();
    let Some(plan) = plans.get(number.wrapping_sub(1)) else {
        eprintln!("There are runs 1 to {}.", plans.len());
        return Ok(());
    };
    let truth = plan.run().ride();
    let series = [
        ("speed_mps", &truth.speed_mps),
        ("front_travel_m", &truth.front_travel_m),
        ("rear_travel_m", &truth.rear_travel_m),
        ("front_speed_mps", &truth.front_speed_mps),
        ("rear_speed_mps", &truth.rear_speed_mps),
        ("front_load_n", &truth.front_load_n),
        ("rear_load_n", &truth.rear_load_n),
        ("front_brake_pa", &truth.front_brake_pa),
        ("rear_brake_pa", &truth.rear_brake_pa),
        ("front_wheel_mps", &truth.front_wheel_mps),
        ("rear_wheel_mps", &truth.rear_wheel_mps),
        ("front_slip", &truth.front_slip),
        ("rear_slip", &truth.rear_slip),
        ("front_aside_m", &truth.front_aside_m),
        ("rear_aside_m", &truth.rear_aside_m),
        ("front_side_n", &truth.front_side_n),
        ("rear_side_n", &truth.rear_side_n),
        ("hands_load_n", &truth.hands_load_n),
        ("pitch_rad", &truth.pitch_rad),
        ("roll_rad", &truth.roll_rad),
        ("yaw_rad", &truth.yaw_rad),
        ("rate_x_radps", &truth.rate_radps[0]),
        ("rate_y_radps", &truth.rate_radps[1]),
        ("rate_z_radps", &truth.rate_radps[2]),
        ("force_x_mps2", &truth.frame_force_mps2[0]),
        ("force_y_mps2", &truth.frame_force_mps2[1]),
        ("force_z_mps2", &truth.frame_force_mps2[2]),
    ];
    let mut out = BufWriter::new(io::stdout().lock());
    write!(out, "time_s,distance_m")?;
    for (name, _) in &series {
        write!(out, ",{name}")?;
    }
    writeln!(out)?;
    for index in 0..truth.len() {
        write!(out, "{},{:.3}", index as f64 / RECORD_HZ, truth.distance_m[index])?;
        for (_, values) in &series {
            write!(out, ",{}", values[index])?;
        }
        writeln!(out)?;
    }
    out.flush()
}
