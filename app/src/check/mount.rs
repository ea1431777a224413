//! How the inertial units lie on the bike.

use evenkeel_core::calibrate::Mount;
use evenkeel_core::{NotMeasured, Place, Profile};
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::edit_profile;
use crate::store::store;
use crate::worker::{Failure, Request};

/// One form per place that has an inertial unit in this file.
#[component]
pub fn MountForm(profile: Memo<Profile>) -> impl IntoView {
    let has = move |place: Place| Memo::new(move |_| profile.with(|profile| profile.has_triad(place)));
    [(Place::Frame, "Frame unit"), (Place::Bar, "Bar unit")]
        .map(|(place, title)| {
            let has = has(place);
            view! {
                <Show when=move || has.get()>
                    <OneMount place title profile/>
                </Show>
            }
        })
        .collect_view()
}

#[component]
fn OneMount(place: Place, title: &'static str, profile: Memo<Profile>) -> impl IntoView {
    let store = store();
    let set = move |mount: Mount| {
        edit_profile(store, profile, |profile| profile.set_mount(place, mount));
    };
    let mount = Memo::new(move |_| profile.with(|profile| profile.mount(place)));
    let words = RwSignal::new(String::new());
    let level = RwSignal::new(false);
    let find = move |_| {
        words.set("looking…".to_owned());
        let (day, run) = (store.day.get_untracked(), store.run.get_untracked());
        let request = Request::FindMount { day, run, place };
        spawn_local(async move {
            words.set(match store.ask::<Result<Mount, NotMeasured>>(request, None).await {
                Ok((Ok(mount), _)) => {
                    set(if level.get_untracked() { mount } else { mount.levelled(0.0, 0.0) });
                    "found from the bike at rest and from speeding up and braking".to_owned()
                }
                Ok((Err(reason), _)) => format!("not found: {reason}"),
                Err(Failure::Cancelled) => String::new(),
                Err(Failure::Problem(problem)) => problem,
            });
        });
    };
    view! {
        <details class="mount" open>
            <summary>{title}</summary>
            <div class="fields">
                <label class="field">
                    <span>"Its axes that point forward, left, up"</span>
                    <select
                        aria-label=format!("{title}: axes that point forward, left, up")
                        on:change:target=move |event| {
                            if let Ok(mount) = event.target().value().parse() {
                                set(mount);
                            }
                        }
                    >
                        {move || {
                            let now = mount.get();
                            let square = Mount::all();
                            let levelled = (!Mount::all().any(|other| other == now)).then_some(now);
                            square
                                .chain(levelled)
                                .map(|mount| view! { <option value=mount.to_string() selected=mount == now>{mount.to_string()}</option> })
                                .collect_view()
                        }}
                    </select>
                </label>
                <label class="tick">
                    <input type="checkbox" prop:checked=level on:change:target=move |e| level.set(e.target().checked())/>
                    "the bike stood level at rest"
                </label>
                <button on:click=find>"Find from this run"</button>
            </div>
            <p class="quiet" aria-live="polite">{words}</p>
        </details>
    }
}
