//! Whatever else is noted of the bike: name, value, unit.

use evenkeel_core::setup::FreeLine;
use leptos::prelude::*;

use super::written::Sheet;

#[component]
pub fn FreeLines(sheet: Sheet) -> impl IntoView {
    let count = sheet.memo(|sheet| sheet.setup.lines.len());
    let add = move |_| sheet.write("a line added", |sheet| sheet.setup.lines.push(FreeLine::default()));
    view! {
        <div class="free-lines">
            <For each=move || 0..count.get() key=|line| *line let:line>
                <Line sheet line/>
            </For>
            <button id=format!("{}-add-line", sheet.key()) on:click=add>"Add a line of your own"</button>
        </div>
    }
}

#[component]
fn Line(sheet: Sheet, line: usize) -> impl IntoView {
    let now = sheet.memo(move |sheet| sheet.setup.lines.get(line).cloned().unwrap_or_default());
    let write = move |what: &str, act: &dyn Fn(&mut FreeLine)| {
        sheet.write(what, |sheet| {
            if let Some(line) = sheet.setup.lines.get_mut(line) {
                act(line);
            }
        });
    };
    let remove = move |_| {
        sheet.write("a line removed", |sheet| {
            if line < sheet.setup.lines.len() {
                sheet.setup.lines.remove(line);
            }
        });
    };
    let id = format!("{}-line-{line}", sheet.key());
    view! {
        <div class="free-line">
            <input id=format!("{id}-name") class="line-of" aria-label="what it is" placeholder="what it is"
                prop:value=move || now.get().name
                on:change:target=move |event| write("what a line is", &|line| line.name = event.target().value())/>
            <input id=format!("{id}-value") aria-label="how it is set" placeholder="how it is set"
                prop:value=move || now.get().value
                on:change:target=move |event| write("a line of your own", &|line| line.value = event.target().value())/>
            <input id=format!("{id}-unit") class="line-unit" aria-label="its unit" placeholder="unit"
                prop:value=move || now.get().unit
                on:change:target=move |event| write("unit of a line", &|line| line.unit = event.target().value())/>
            <button class="small" aria-label="Remove this line" on:click=remove>"×"</button>
        </div>
    }
}
