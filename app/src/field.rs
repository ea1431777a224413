//! Fields that keep what was typed until it can be read, and choices.

use leptos::prelude::*;

/// A number with its unit. What cannot be read stays in the field, marked, and changes nothing.
#[component]
pub fn NumberField(
    #[prop(into)] label: String,
    #[prop(optional, into)] unit: String,
    #[prop(optional, into)] id: String,
    /// Digits after the decimal point when shown.
    #[prop(default = 1)]
    digits: usize,
    #[prop(into)] value: Signal<f64>,
    on_change: impl Fn(f64) + Send + Sync + 'static,
) -> impl IntoView {
    let wrong = RwSignal::new(false);
    view! {
        <label class="field">
            <span>{label}</span>
            <span class="entry">
                <input
                    id=(!id.is_empty()).then_some(id)
                    inputmode="decimal"
                    prop:value=move || plain(value.get(), digits)
                    aria-invalid=move || wrong.get().then_some("true")
                    on:change:target=move |event| {
                        let number = parse_number(&event.target().value());
                        wrong.set(number.is_none());
                        if let Some(number) = number {
                            on_change(number);
                        }
                    }
                />
                <span class="unit">{unit}</span>
            </span>
            <Show when=move || wrong.get()>
                <span class="wrong">"not a number"</span>
            </Show>
        </label>
    }
}

/// One of several things, each told in words.
#[component]
pub fn Choice<T, W>(
    label: &'static str,
    #[prop(optional)] id: Option<&'static str>,
    chosen: RwSignal<T>,
    #[prop(into)] options: Signal<Vec<(T, W)>>,
) -> impl IntoView
where
    T: Clone + PartialEq + Send + Sync + 'static,
    W: ToString + Clone + Send + Sync + 'static,
{
    let choose = move |select: web_sys::HtmlSelectElement| {
        let at = usize::try_from(select.selected_index()).ok();
        let value = options.with_untracked(|options| Some(options.get(at?)?.0.clone()));
        if let Some(value) = value {
            chosen.set(value);
        }
    };
    // What is not offered any more is not chosen.
    Effect::new(move |_| {
        let first = options.with(|options| {
            let is_offered = options.iter().any(|(value, _)| chosen.with_untracked(|chosen| chosen == value));
            options.first().filter(|_| !is_offered).map(|(value, _)| value.clone())
        });
        if let Some(first) = first {
            chosen.set(first);
        }
    });
    let option = move |(value, words): (T, W)| {
        view! { <option prop:selected=move || chosen.with(|chosen| *chosen == value)>{words.to_string()}</option> }
    };
    view! {
        <label class="field">
            <span>{label}</span>
            <select id=id on:change:target=move |event| choose(event.target())>
                {move || options.get().into_iter().map(option).collect_view()}
            </select>
        </label>
    }
}

/// A number as people type it: decimal point or comma.
pub fn parse_number(text: &str) -> Option<f64> {
    text.trim().replace(',', ".").parse().ok().filter(|number: &f64| number.is_finite())
}

/// Without trailing zeros.
fn plain(number: f64, digits: usize) -> String {
    let text = format!("{number:.digits$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_as_people_type_them() {
        assert_eq!(parse_number(" 12,5 "), Some(12.5));
        assert_eq!(parse_number("-3"), Some(-3.0));
        assert_eq!(parse_number("1.2.3"), None);
        assert_eq!(parse_number("inf"), None);
        assert_eq!(plain(63.0, 1), "63");
        assert_eq!(plain(1250.04, 1), "1250");
        assert_eq!(plain(-0.25, 3), "-0.25");
    }
}
