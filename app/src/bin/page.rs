//! The page.

fn main() {
    evenkeel_app::show();
}
