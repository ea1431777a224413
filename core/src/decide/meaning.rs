//! What each metric means, in a sentence or two for the screen.

use super::Metric;

const MEANINGS: [(&str, &str); 36] = [
    ("time_s", "How long the section took."),
    ("level.pitch_rate_rms_radps", "How fast the frame tips to and fro, 0.5 to 12 Hz."),
    (
        "level.pitch_chord_rms_rad",
        "How much the frame tips about its usual pitch against the line under both wheels.",
    ),
    ("level.heave_rms_m", "The frame moving up and down without pitching."),
    (
        "level.evenness_share",
        "How alike both ends answer the same ground: 0 the same, 0.5 unlike, 1 opposite.",
    ),
    (
        "level.kick_p95_radps",
        "Nose-down tipping just after the rear starts back from a big hit: what 95 % of the kicks stay below.",
    ),
    (
        "front.not_recovered_share",
        "Share of the hits that the next one met before the fork was back at its ride height.",
    ),
    (
        "rear.not_recovered_share",
        "Share of the hits that the next one met before the rear was back at its ride height.",
    ),
    (
        "front.recovery_p50_s",
        "From the deepest point of a hit until the fork is back at ride height: median.",
    ),
    ("rear.recovery_p50_s", "From the deepest point of a hit until the rear is back at ride height: median."),
    (
        "front.sink_m",
        "How much deeper the fork comes to lie from the fourth hit of a train on. What counts is that it rises.",
    ),
    (
        "rear.sink_m",
        "How much deeper the rear comes to lie from the fourth hit of a train on. What counts is that it rises.",
    ),
    (
        "front.rebound_rate_per_s",
        "Rebound speed that the fork gains for each metre of depth of a hit; falls as rebound damping rises.",
    ),
    (
        "rear.rebound_rate_per_s",
        "Rebound speed that the rear gains for each metre of depth of a hit; falls as rebound damping rises.",
    ),
    (
        "front.early_top_outs",
        "How often the fork came back from a strong hit so fast that it knocked at full extension.",
    ),
    (
        "rear.early_top_outs",
        "How often the rear came back from a strong hit so fast that it knocked at full extension.",
    ),
    (
        "front.ride_height_m",
        "Travel that the fork works around while rolling. Whether deeper is better is for the rider to say.",
    ),
    (
        "rear.ride_height_m",
        "Travel that the rear works around while rolling. Whether deeper is better is for the rider to say.",
    ),
    ("front.travel_p95_m", "Travel that the fork stays below 95 % of the time: how much of it is used."),
    ("rear.travel_p95_m", "Travel that the rear stays below 95 % of the time: how much of it is used."),
    ("front.bottom_outs", "How often the fork reached 97 % of its travel."),
    ("rear.bottom_outs", "How often the rear reached 97 % of its travel."),
    (
        "front.unweighted_s",
        "How long the fork was fully extended, its wheel not pressed to the ground, flights with it.",
    ),
    (
        "rear.unweighted_s",
        "How long the rear was fully extended, its wheel not pressed to the ground, flights with it.",
    ),
    (
        "front.harshness_per_s",
        "Shaking of the frame, 5 to 25 Hz, for what the front axle does: more is harsher.",
    ),
    (
        "rear.harshness_per_s",
        "Shaking of the frame, 5 to 25 Hz, for what the rear axle does: more is harsher.",
    ),
    (
        "lateral.shake_rms_mps2",
        "Sideways acceleration of the frame, 4 to 30 Hz, over half seconds with little lean: median.",
    ),
    ("dive.rise_m", "Fork travel gained from each use of the front brake, bumps taken out: median."),
    (
        "dive.gain_m_per_pa",
        "Fork travel gained for each bar of front brake pressure, bumps taken out: median.",
    ),
    ("brakes.front.drag_s", "How long the front brake was lightly on for a second or more at a stretch."),
    ("brakes.rear.drag_s", "How long the rear brake was lightly on for a second or more at a stretch."),
    (
        "brakes.overlap_s",
        "How long both brakes were on at once. That is normal braking: neither way is better.",
    ),
    (
        "rear_wheel.lockup_s",
        "How long the rear wheel slipped by 80 % or more: it no longer turned with the bike.",
    ),
    ("vibration.hand_arm_rms_mps2", "Vibration at the bar, weighted for hands (ISO 5349-1)."),
    ("vibration.whole_run_rms_mps2", "Vertical vibration of the frame, weighted for the body (ISO 2631-1)."),
    (
        "rider.hand_load_rms_mps2",
        "Vertical acceleration of the bar less the frame's, below 3 Hz: how the hands load the front.",
    ),
];

impl Metric {
    /// What it means.
    pub fn meaning(&self) -> &'static str {
        MEANINGS.iter().find(|(key, _)| *key == self.key).map_or("", |(_, meaning)| meaning)
    }
}

#[cfg(test)]
mod tests {
    use super::super::METRICS;

    #[test]
    fn every_metric_is_explained() {
        for metric in METRICS {
            assert!(metric.meaning().ends_with('.'), "{}", metric.key);
        }
    }
}
