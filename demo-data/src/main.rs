//! Writes the demo day: `cargo run --release -p evenkeel-demo-data [FOLDER]`.

use std::error::Error;
use std::fs;
use std::path::PathBuf;

use evenkeel_demo_data::day::plans;
use evenkeel_demo_data::written::{CAMERA_FILE, DAY_FILE, LINKAGE_FILE, camera_text, day, linkage_text};

fn main() -> Result<(), Box<dyn Error>> {
    let here = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("harrowdean");
    let folder = std::env::args_os().nth(1).map_or(here, PathBuf::from);
    fs::create_dir_all(&folder)?;
    let mut runs = Vec::new();
    for plan in plans() {
        let recording = plan.record();
        fs::write(folder.join(plan.suspension_file()), &recording.suspension_text)?;
        fs::write(folder.join(plan.motion_file()), &recording.motion_text)?;
        println!("{}: {:.1} s", plan.name, recording.truth.duration_s());
        runs.push((plan, recording));
    }
    fs::write(folder.join(DAY_FILE), serde_json::to_string_pretty(&day(&runs)?)? + "\n")?;
    fs::write(folder.join(CAMERA_FILE), camera_text(&runs))?;
    fs::write(folder.join(LINKAGE_FILE), linkage_text())?;
    Ok(())
}
