//! One line of a set-up sheet at one end: a field, its unit, how it was, and what may be wrong with it.

use evenkeel_core::setup::{Entry, Item, SheetUnit, Typed, doubt};
use leptos::ev::KeyboardEvent;
use leptos::prelude::*;

use super::written::Sheet;
use crate::store::store;

#[component]
pub fn SheetCell(sheet: Sheet, item: Item) -> impl IntoView {
    let store = store();
    let entry = sheet.memo(move |sheet| sheet.setup.get(item).cloned());
    let usual_unit = sheet.memo(move |sheet| sheet.setup.unit(item));
    // What was chosen for a line that holds no number yet.
    let chosen = RwSignal::new(None::<SheetUnit>);
    let unit = Memo::new(move |_| {
        let typed = entry.with(|entry| entry.as_ref().and_then(Entry::number)).map(|number| number.unit);
        typed.or(chosen.get()).unwrap_or(usual_unit.get())
    });
    let before = Memo::new(move |_| {
        store.day.with(|day| {
            let changes = day.changes_before(sheet.run);
            changes.into_iter().find(|change| change.item == Some(item)).and_then(|change| change.before)
        })
    });
    let write = move |entry: Option<Entry>| {
        sheet.write(item.name(), |sheet| sheet.setup.set(item, entry));
    };
    let typed = move |text: String| write(Entry::read(&text, unit.get_untracked(), item.units()));
    let choose = move |symbol: String| {
        let Some(unit) = SheetUnit::parse(&symbol) else { return };
        chosen.set(Some(unit));
        // The number stays as it was typed: what it counts is what its owner says it counts.
        if let Some(number) = entry.get_untracked().as_ref().and_then(Entry::number) {
            write(Some(Entry::Number(Typed { unit, ..number })));
        }
    };
    let step = move |event: KeyboardEvent| {
        let step = match event.key().as_str() {
            "ArrowUp" => 1.0,
            "ArrowDown" => -1.0,
            _ => return,
        };
        if let Some(number) = entry.get_untracked().as_ref().and_then(Entry::number)
            && number.unit == SheetUnit::Click
            && number.value + step >= 0.0
        {
            event.prevent_default();
            write(Some(Entry::Number(Typed { value: number.value + step, ..number })));
        }
    };
    let wrong = Memo::new(move |_| entry.with(|entry| entry.as_ref().and_then(|entry| doubt(item, entry))));
    let id = format!("{}-{}", sheet.key(), item.name().replace(' ', "-"));
    let note = format!("{id}-doubt");
    let units = match item.units() {
        [only] => view! { <span class="unit">{only.symbol()}</span> }.into_any(),
        several => {
            let option = |of: &SheetUnit| {
                let of = *of;
                view! { <option value=of.symbol() selected=move || unit.get() == of>{of.symbol()}</option> }
            };
            view! {
                <select
                    id=format!("{id}-unit")
                    aria-label=format!("unit of {}", item.name())
                    on:change:target=move |event| choose(event.target().value())
                >
                    {several.iter().map(option).collect_view()}
                </select>
            }
            .into_any()
        }
    };
    view! {
        <span class="sheet-cell" class:changed=move || before.with(Option::is_some)>
            <input
                id=id
                inputmode="decimal"
                autocomplete="off"
                aria-label=item.name()
                aria-describedby=note.clone()
                prop:value=move || entry.with(|entry| entry.as_ref().map(Entry::typed).unwrap_or_default())
                on:change:target=move |event| typed(event.target().value())
                on:keydown=step
            />
            {units}
            <span class="note" id=note>
                {move || before.get().map(|before| view! { <span class="was">"was "{before}</span> })}
                {move || wrong.get().map(|wrong| view! { <span class="doubt">{wrong}</span> })}
            </span>
        </span>
    }
}
