//! What was measured, as lines that say whether the goal is met.

use std::fmt;

/// One thing measured.
pub struct Line {
    what: String,
    ours: String,
    peer: String,
    ratio: String,
    goal: String,
    met: Option<bool>,
}

impl Line {
    /// A line that has no goal of its own.
    pub fn new(what: impl Into<String>, ours: impl Into<String>) -> Self {
        let [peer, ratio, goal] = [const { String::new() }; 3];
        Self { what: what.into(), ours: ours.into(), peer, ratio, goal, met: None }
    }

    /// Stands beside a peer.
    pub fn beside(mut self, peer: impl Into<String>, ratio: f64) -> Self {
        self.peer = peer.into();
        self.ratio = format!("{ratio:.2}");
        self
    }

    /// Stands beside something that has no ratio to it.
    pub fn with(mut self, peer: impl Into<String>) -> Self {
        self.peer = peer.into();
        self
    }

    /// Has a goal, met or not.
    pub fn goal(mut self, goal: impl Into<String>, met: bool) -> Self {
        self.goal = goal.into();
        self.met = Some(met);
        self
    }

    /// Has a goal that could not be tried.
    pub fn untried(mut self, goal: impl Into<String>) -> Self {
        self.goal = goal.into();
        self
    }
}

impl fmt::Display for Line {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = match self.met {
            Some(true) => "met",
            Some(false) => "MISSED",
            None if self.goal.is_empty() => "",
            None => "not tried",
        };
        let Self { what, ours, peer, ratio, goal, .. } = self;
        write!(f, "{what:<54} {ours:<22} {peer:<27} {ratio:>6}  {goal:<32} {word}")
    }
}

/// Prints a part's lines as they come, and keeps them for the end.
#[derive(Default)]
pub struct Table(Vec<Line>);

impl Table {
    pub fn part(&mut self, title: &str) {
        println!("\n{title}");
        println!("{:<54} {:<22} {:<27} {:>6}  {:<32}", "what", "ours", "peer", "ratio", "goal");
    }

    pub fn line(&mut self, line: Line) {
        println!("{line}");
        self.0.push(line);
    }

    /// Says how many goals are met, and repeats those that are not.
    pub fn sum_up(&self) {
        let with = |met| self.0.iter().filter(move |line| line.met == Some(met));
        println!("\n{} goals met, {} missed", with(true).count(), with(false).count());
        with(false).for_each(|line| println!("{line}"));
    }
}

/// Milliseconds.
pub fn ms(value: f64) -> String {
    if value < 100.0 { format!("{value:.1} ms") } else { format!("{value:.0} ms") }
}

/// Millions of bytes.
pub fn mb(bytes: f64) -> String {
    format!("{:.1} MB", bytes / 1e6)
}
