//! The set-up sheet of one run, folded to one line until it is needed.

use evenkeel_core::End;
use evenkeel_core::setup::{Descent, Item, Part};
use leptos::prelude::*;

use super::free_lines::FreeLines;
use super::sheet_cell::SheetCell;
use super::written::Sheet;
use crate::deferred::Deferred;
use crate::store::store;

#[component]
pub fn SheetForm(sheet: Sheet, #[prop(optional)] open: bool) -> impl IntoView {
    let brief = sheet.memo(|sheet| sheet.setup.in_brief());
    let explained = RwSignal::new(false);
    view! {
        <details class="sheet" open=open id=format!("{}-sheet", sheet.key())>
            <summary>
                <b>"Set-up sheet"</b>
                <span class="quiet">
                    {move || match brief.get() {
                        brief if brief.is_empty() => "not written".to_owned(),
                        brief => brief,
                    }}
                </span>
            </summary>
            <Deferred>
            <div class="sheet-tools">
                <CopyFrom sheet/>
                <label class="tick">
                    <input type="checkbox" prop:checked=move || explained.get()
                        on:change:target=move |event| explained.set(event.target().checked())/>
                    "Explain"
                </label>
            </div>
            <table class:explained=move || explained.get()>
                <thead><tr>
                    <td></td>
                    <th scope="col"><i class="swatch front"></i>"front"</th>
                    <th scope="col"><i class="swatch rear"></i>"rear"</th>
                </tr></thead>
                <tbody>
                    {Part::ALL.map(|part| view! { <PartRow sheet part/> }).collect_view()}
                    <tr>
                        <th scope="row">"bar height"</th>
                        <td colspan="2"><SheetCell sheet item=Item::BarHeight/></td>
                    </tr>
                </tbody>
            </table>
            <FreeLines sheet/>
            </Deferred>
        </details>
    }
}

#[component]
fn PartRow(sheet: Sheet, part: Part) -> impl IntoView {
    view! {
        <tr>
            <th scope="row"><abbr class="term" title=part.explanation()>{part.name()}</abbr></th>
            <td><SheetCell sheet item=Item::At(End::Front, part)/></td>
            <td><SheetCell sheet item=Item::At(End::Rear, part)/></td>
        </tr>
        <tr class="explanation"><td colspan="3">{part.explanation()}</td></tr>
    }
}

/// Another run's set-up, written over this one's: the run before unless another is chosen.
#[component]
fn CopyFrom(sheet: Sheet) -> impl IntoView {
    let store = store();
    let chosen = RwSignal::new(None::<Descent>);
    let others = Memo::new(move |_| {
        store.day.with(|day| {
            let written = |run: &Descent| {
                *run != sheet.run && day.sheet(*run).is_some_and(|sheet| !sheet.setup.is_blank())
            };
            day.descents().filter(written).map(|run| (run, day.run_name(run))).collect::<Vec<_>>()
        })
    });
    let from = Memo::new(move |_| {
        let before = store.day.with(|day| day.run_before(sheet.run));
        others.with(|others| {
            let among = |run: Option<Descent>| others.iter().find(|(other, _)| Some(*other) == run).cloned();
            among(chosen.get()).or_else(|| among(before)).or_else(|| others.first().cloned())
        })
    });
    let copy = move |_| {
        let Some((from, name)) = from.get_untracked() else { return };
        let Some(other) = store.day.with_untracked(|day| day.sheet(from).map(|sheet| sheet.setup.clone()))
        else {
            return;
        };
        sheet.write(format!("set-up of {name} copied"), |sheet| {
            sheet.setup = other.with_words(std::mem::take(&mut sheet.setup.words));
        });
    };
    let options = move || {
        let option = |(index, (run, name)): (usize, (Descent, String))| {
            view! { <option value=index selected=move || from.with(|from| from.as_ref().is_some_and(|from| from.0 == run))>{name}</option> }
        };
        others.get().into_iter().enumerate().map(option).collect_view()
    };
    view! {
        <Show when=move || others.with(|others| !others.is_empty())>
            <span class="copy-from">
                <button id=format!("{}-copy", sheet.key()) on:click=copy>"Copy the set-up of"</button>
                <select
                    aria-label="run whose set-up is copied"
                    on:change:target=move |event| {
                        let index = event.target().value().parse::<usize>().ok();
                        chosen.set(index.and_then(|index| others.with_untracked(|others| others.get(index).map(|other| other.0))));
                    }
                >
                    {options}
                </select>
            </span>
        </Show>
    }
}
