//! Writes the demo day: `cargo run --release -p evenkeel-demo-data [FOLDER]`.

use std::error::Error;
use std::fs;
use std::path::PathBuf;

use evenkeel_demo_data::day::plans;
use evenkeel_demo_data::written::{
    ARCHIVE_FILE, CAMERA_FILE, DAY_FILE, LINKAGE_FILE, SPLITS_FILE, add_sections, archive, camera_text, day,
    linkage_text, splits_text,
};

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
    let mut day = day(&runs)?;
    add_sections(&mut day, &runs)?;
    fs::write(folder.join(ARCHIVE_FILE), serde_json::to_string(&archive(&day)?)? + "\n")?;
    fs::write(folder.join(DAY_FILE), serde_json::to_string_pretty(&day)? + "\n")?;
    if let Some((_, first)) = runs.first() {
        fs::write(folder.join(SPLITS_FILE), splits_text(first))?;
    }
    fs::write(folder.join(CAMERA_FILE), camera_text(&runs))?;
    fs::write(folder.join(LINKAGE_FILE), linkage_text())?;
    Ok(())
}
