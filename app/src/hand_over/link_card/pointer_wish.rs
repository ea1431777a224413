//! A sealed file for the host of this app, and the link with its key.

use evenkeel_core::handover::Pointer;
use evenkeel_seal::{Ask, Told};
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::link_out::LinkOut;
use super::wish::{Making, point};
use crate::hand_over::chosen_runs::ChosenRuns;
use crate::hand_over::contents::WhatLeaves;
use crate::hand_over::prepared::{Prepared, Preparing};
use crate::hand_over::random;
use crate::save::{save, size};
use crate::store::store;
use crate::worker::Failure;

#[component]
pub fn PointerWish() -> impl IntoView {
    let store = store();
    let sealer = store.hand_over.sealer;
    let left_out = RwSignal::new(Vec::new());
    let preparing = Preparing::new(RwSignal::new(true), left_out);
    let Preparing { prepared, wrong, .. } = preparing;
    // Nobody can ask the host for what nobody can guess.
    let path = RwSignal::new(format!("days/{}.age", random::id()));
    let made = RwSignal::new(Making::Nothing);
    // Where the file of the link that was made is to lie.
    let sealed_for = RwSignal::new(String::new());
    let listed = move |_| {
        made.set(Making::Nothing);
        preparing.prepare();
    };
    let seal = move |_| {
        let Some(Prepared { file, .. }) = prepared.get_untracked() else {
            return;
        };
        let at = path.get_untracked().trim().to_owned();
        spawn_local(async move {
            let sealed = async {
                let (Told::Keys { secret, public }, _) =
                    sealer.ask("Making a key", Ask::NewKeys, None).await?
                else {
                    return Err(Failure::Problem("no key was made; try again".to_owned()));
                };
                let link = point(store, Pointer { file: at.clone(), key: secret })
                    .await
                    .map_err(Failure::Problem)?;
                let ask = Ask::SealByKeys { keys: vec![public] };
                let (_, sealed) = sealer.ask("Sealing the file", ask, Some(&file)).await?;
                sealed
                    .map(|sealed| (link, sealed))
                    .ok_or_else(|| Failure::Problem("no file was sealed; try again".to_owned()))
            };
            match sealed.await {
                Ok((link, sealed)) => {
                    save(&sealed, at.rsplit('/').next().unwrap_or(&at));
                    prepared.try_set(None);
                    sealed_for.try_set(at);
                    made.try_set(Making::Done(link));
                }
                Err(Failure::Cancelled) => {}
                Err(Failure::Problem(problem)) => drop(wrong.try_set(problem)),
            }
        });
    };
    view! {
        <p class="quiet">"The file is sealed with a key made for it alone; you put it beside this app on its host, and the key travels in the link. The host never sees the key."</p>
        <div class="fields">
            <label class="field wide">
                <span>"Where the file will lie, from the app's folder"</span>
                <input id="pointer-path" autocomplete="off" prop:value=move || path.get() on:change:target=move |event| path.set(event.target().value())/>
            </label>
        </div>
        <ChosenRuns left_out/>
        <p class="buttons"><button id="list-pointer" on:click=listed>"Show what is in it"</button></p>
        {move || prepared.get().map(|made| {
            let told = size(made.file.size());
            view! {
                <WhatLeaves contents=made.contents who="Whoever has the link, once the file lies on the host. Take the file away from there, and the link opens nothing.".to_owned()/>
                <p class="buttons"><button class="main" id="seal-pointer" on:click=seal>{format!("Seal it, save it, make the link ({told})")}</button></p>
            }
        })}
        <p class="wrong" role="alert">{move || wrong.get()}</p>
        {move || matches!(made.get(), Making::Done(_)).then(|| view! {
            <p>{format!("The sealed file was saved. Put it on the host as {}, then send the link.", sealed_for.get())}</p>
        })}
        <LinkOut made/>
    }
}
