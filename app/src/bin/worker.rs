//! The page's worker.

fn main() {
    evenkeel_app::answer();
}
