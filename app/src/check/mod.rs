//! The Check: what each sensor was taken for, and whether it can be believed.

mod bike;
mod channel;
mod clock;
mod layout;
mod mount;

use evenkeel_core::Profile;
use leptos::prelude::*;

use crate::hand_over::is_copy;
use crate::store::{Store, store};
use crate::worker::{Failure, Picture, Request, SourceInfo};
use bike::BikeForm;
use channel::ChannelCard;
use clock::ClockForm;
use layout::LayoutForm;
use mount::MountForm;

#[component]
pub fn Check() -> impl IntoView {
    let store = store();
    let files = Memo::new(move |_| {
        let logs = store.day.with(|day| day.runs.get(store.run.get()).map(|run| run.logs.clone()));
        logs.unwrap_or_default().into_iter().map(|log| log.file).collect::<Vec<_>>()
    });
    view! {
        <div class="check">
            <fieldset class="as-it-came" disabled=move || is_copy(store)>
            <BikeForm/>
            {move || {
                let files = files.get();
                if files.is_empty() {
                    return view! { <p class="empty">"No run yet. Load its log files in Day."</p> }.into_any();
                }
                files
                    .into_iter()
                    .enumerate()
                    .map(|(position, name)| view! { <SourceCheck name first=position == 0/> })
                    .collect_view()
                    .into_any()
            }}
            </fieldset>
        </div>
    }
}

/// Everything about one file.
#[component]
fn SourceCheck(name: String, first: bool) -> impl IntoView {
    let store = store();
    let named = name.clone();
    let info = Memo::new(move |_| store.source(&named));
    move || {
        let Some(info) = info.get() else {
            return view! { <section class="source"><h2>{name.clone()}</h2><p class="empty">"Not loaded in this page; drop the file again."</p></section> }.into_any();
        };
        view! { <LoadedSource info first/> }.into_any()
    }
}

#[component]
fn LoadedSource(info: SourceInfo, first: bool) -> impl IntoView {
    let store = store();
    let for_profile = info.clone();
    let profile = Memo::new(move |_| store.profile(&for_profile));
    let pictures = RwSignal::new(Vec::<(Picture, Vec<f32>)>::new());
    let name = info.name.clone();
    Effect::new(move || {
        let request = Request::Pictures { source: name.clone(), profile: profile.get() };
        leptos::task::spawn_local(async move {
            match store.ask::<Vec<Picture>>(request, None).await {
                Ok((drawn, buffers)) => pictures.set(drawn.into_iter().zip(buffers).collect()),
                Err(Failure::Cancelled) => {}
                Err(Failure::Problem(problem)) => store.tell(problem),
            }
        });
    });
    let channels = 0..info.guess.channels.len();
    let report = info.report.clone();
    let source = info.name.clone();
    let is_text = info.name.starts_with(&info.file);
    view! {
        <section class="source" aria-label=info.name.clone()>
            <h2>{info.name.clone()}</h2>
            <p class="facts">
                {format!("{} rows, {:.1} Hz, {:.1} s; gaps: {}, rows dropped: {}", report.rows, report.rate_hz, info.end_s - info.start_s, report.gaps, report.dropped)}
            </p>
            <ul class="warnings">{report.warnings.into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
            <div class="source-forms">
                // What came in a day file is numbers: there is no other way to read them.
                {is_text.then(|| view! { <LayoutForm info=info.clone()/> })}
                <ClockForm source=info.name.clone() first/>
                <MountForm profile/>
            </div>
            <div class="channels">
                {channels
                    .map(|column| {
                        let source = source.clone();
                        view! { <ChannelCard source column profile pictures/> }
                    })
                    .collect_view()}
            </div>
        </section>
    }
}

/// Changes the profile of a kind of file and keeps it with the day.
fn edit_profile(store: Store, profile: Memo<Profile>, change: impl FnOnce(&mut Profile)) {
    let mut changed = profile.get_untracked();
    change(&mut changed);
    store.day.update(|day| day.keep_profile(changed));
}
