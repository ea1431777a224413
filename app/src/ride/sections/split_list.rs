//! Sections from a split list: a text file with a line for each.

use evenkeel_core::track::Section;
use gloo_file::File;
use leptos::prelude::*;
use leptos::task::spawn_local;
use web_sys::HtmlInputElement;

use super::changes::{add, change};
use crate::day::list_files;
use crate::store::store;
use crate::worker::{Failure, Request, SectionsRead};

#[component]
pub fn SplitList(sections: Memo<Vec<Section>>) -> impl IntoView {
    let store = store();
    let problem = RwSignal::new(None::<String>);
    // A list that was read beside sections that exist, until its owner says what becomes of them.
    let waiting = RwSignal::new(None::<(String, SectionsRead)>);
    let take = move |file: String, read: SectionsRead, replace: bool| {
        let what = format!("{file} {}", if replace { "put in place of the others" } else { "added" });
        waiting.set(None);
        change(store, what, |day| {
            if replace {
                day.sections.clear();
            }
            add(day, read.sections, read.new_course);
        });
    };
    let choose = move |input: HtmlInputElement| {
        let file: Option<File> = input.files().and_then(|list| list_files(&list).into_iter().next());
        // The same file chosen again is a change again.
        input.set_value("");
        let Some(file) = file else { return };
        let (day, run, name) = (store.day.get_untracked(), store.run.get_untracked(), file.name());
        spawn_local(async move {
            let request = Request::ReadSplits { day, run, name: name.clone() };
            match store.ask::<SectionsRead>(request, Some(&file)).await {
                Ok((read, _)) => {
                    problem.set(None);
                    if store.day.with_untracked(|day| day.sections.is_empty()) {
                        take(name, read, false);
                    } else {
                        waiting.set(Some((name, read)));
                    }
                }
                Err(Failure::Cancelled) => {}
                Err(Failure::Problem(why)) => {
                    problem.set(Some(format!("{why}. The sections are as they were.")));
                }
            }
        });
    };
    let question = move || {
        waiting.get().map(|(file, read)| {
            let (new, old) = (read.sections.len(), sections.with(Vec::len));
            let (added, replacing) = ((file.clone(), read.clone()), (file.clone(), read));
            view! {
                <div class="question" role="alertdialog" aria-label="Split list">
                    <p>{format!("{file} makes {new} sections; the day has {old}.")}</p>
                    <p class="buttons">
                        <button id="splits-add" on:click=move |_| take(added.0.clone(), added.1.clone(), false)>"Add them"</button>
                        <button id="splits-replace" on:click=move |_| take(replacing.0.clone(), replacing.1.clone(), true)>
                            {format!("Replace the {old}")}
                        </button>
                        <button on:click=move |_| waiting.set(None)>"Leave as it is"</button>
                    </p>
                </div>
            }
        })
    };
    view! {
        <div class="split-list">
            <label class="file" title="a line each: name, comma, and where it ends: metres, or m:ss.s from the start of this run">
                <input type="file" id="splits" accept=".csv,.txt,.tsv,text/*" on:change:target=move |e| choose(e.target())/>
                <span>"Read a split list"</span>
            </label>
            {question}
            {move || problem.get().map(|problem| view! { <p class="wrong" role="alert">{problem}</p> })}
        </div>
    }
}
