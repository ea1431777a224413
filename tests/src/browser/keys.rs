//! Keys by the names that web pages know them by.

use thirtyfour::Key;

/// `Shift+ArrowLeft` as the keys to hold down, in order.
pub fn chord(name: &str) -> Option<Vec<char>> {
    let (held, last) = match name.rsplit_once('+') {
        Some((held, last)) if !last.is_empty() => (held.split('+').map(key).collect::<Option<_>>()?, last),
        _ => (Vec::new(), name),
    };
    Some([held, vec![key(last)?]].concat())
}

fn key(name: &str) -> Option<char> {
    let mut characters = name.chars();
    if let (Some(character), None) = (characters.next(), characters.next()) {
        return Some(character);
    }
    let key = match name {
        "Shift" => Key::Shift,
        "Control" => Key::Control,
        "Alt" => Key::Alt,
        "Meta" => Key::Meta,
        "Enter" => Key::Enter,
        "Escape" => Key::Escape,
        "Tab" => Key::Tab,
        "Space" => Key::Space,
        "Backspace" => Key::Backspace,
        "Delete" => Key::Delete,
        "Home" => Key::Home,
        "End" => Key::End,
        "PageUp" => Key::PageUp,
        "PageDown" => Key::PageDown,
        "ArrowLeft" => Key::Left,
        "ArrowRight" => Key::Right,
        "ArrowUp" => Key::Up,
        "ArrowDown" => Key::Down,
        _ => return None,
    };
    Some(key.value())
}

#[test]
fn reads_chords() {
    assert_eq!(chord("?"), Some(vec!['?']));
    assert_eq!(chord("+"), Some(vec!['+']));
    assert_eq!(chord("Shift+ArrowLeft"), Some(vec![Key::Shift.value(), Key::Left.value()]));
    assert_eq!(chord("Shift+Nothing"), None);
}
