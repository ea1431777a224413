//! A sealed file that waits for its passphrase or key.

use evenkeel_seal::{Ask, MAX_WORK_FACTOR, MAX_WORK_FACTOR_PHONE, Told};
use leptos::prelude::*;
use leptos::task::spawn_local;
use web_sys::Blob;

use super::arrive::named;
use super::open::{open_day, unsealed};
use super::secret_field::SecretField;
use crate::store::store;
use crate::worker::Failure;

/// What the sealed file that came in wants.
#[derive(Clone, PartialEq)]
enum Known {
    Looking,
    Wants { work_factor: Option<u8>, memory_bytes: u64 },
    No(String),
}

#[component]
pub fn SealedCard() -> impl IntoView {
    let store = store();
    let sealed = store.hand_over.sealed;
    let sealer = store.hand_over.sealer;
    let known = RwSignal::new(Known::Looking);
    let secret = RwSignal::new(String::new());
    let wrong = RwSignal::new(String::new());
    Effect::new(move |_| {
        let Some(file) = sealed.get() else { return };
        known.set(Known::Looking);
        secret.set(String::new());
        wrong.set(String::new());
        spawn_local(async move {
            // Only its beginning says it.
            let blob: &Blob = file.as_ref();
            let beginning = blob.slice_with_f64_and_f64(0.0, 65_536.0);
            let asked = sealer.ask("Looking at the file", Ask::Wants, beginning.as_ref().ok()).await;
            known.try_set(match asked {
                Ok((Told::Wants { work_factor, memory_bytes }, _)) => {
                    Known::Wants { work_factor, memory_bytes }
                }
                Ok(_) | Err(Failure::Cancelled) => Known::No("it was called off".to_owned()),
                Err(Failure::Problem(problem)) => Known::No(problem),
            });
        });
    });
    let try_it = move || {
        let (Some(file), Known::Wants { work_factor, .. }) = (sealed.get_untracked(), known.get_untracked())
        else {
            return;
        };
        wrong.set(String::new());
        let typed = secret.get_untracked();
        // A key's whole file may be pasted, with what stands around the key.
        let key =
            || typed.split_whitespace().find(|word| word.starts_with("AGE-SECRET-KEY-")).unwrap_or(&typed);
        let ask = match work_factor {
            None => Ask::OpenByKey { secret: key().to_owned() },
            Some(_) => Ask::OpenByPassphrase { passphrase: typed, most: most_work() },
        };
        spawn_local(async move {
            match sealer.ask("Opening the sealed file", ask, Some(file.as_ref())).await {
                Ok((_, Some(bytes))) => match named(&bytes, &unsealed(&file.name())) {
                    Ok(opened) => {
                        sealed.set(None);
                        open_day(store, opened).await;
                    }
                    Err(problem) => drop(wrong.try_set(problem)),
                },
                Ok(_) => drop(wrong.try_set("the sealed file is empty".to_owned())),
                Err(Failure::Cancelled) => {}
                Err(Failure::Problem(problem)) => {
                    drop(wrong.try_set(format!("Not opened: {problem}. Nothing was changed.")));
                }
            }
        });
    };
    let wants = move || match known.get() {
        Known::Looking => view! { <p class="quiet">"Looking at it…"</p> }.into_any(),
        Known::No(why) => {
            view! { <p class="wrong" role="alert">{format!("It cannot be opened: {why}.")}</p> }.into_any()
        }
        Known::Wants { work_factor, memory_bytes } => {
            let (label, told) = match work_factor {
                Some(_) => (
                    "Passphrase",
                    format!("Opening it takes {} MB of memory and some seconds.", memory_bytes >> 20),
                ),
                None => (
                    "Your secret key, AGE-SECRET-KEY-1…",
                    "It was sealed for a key: give the secret key that belongs to it.".to_owned(),
                ),
            };
            view! {
                <p>{told}</p>
                <div class="fields">
                    <SecretField label id="unseal-with" secret done=move |()| try_it()/>
                    <button class="main" id="unseal" on:click=move |_| try_it()>"Open it"</button>
                </div>
            }
            .into_any()
        }
    };
    move || {
        let name = sealed.get()?.name();
        Some(view! {
            <section class="card arrived" aria-label="Sealed file">
                <h2>{format!("{name} is sealed")}</h2>
                {wants}
                <p class="wrong" role="alert" id="unseal-wrong">{move || wrong.get()}</p>
                <p class="buttons"><button on:click=move |_| { sealer.stop(); sealed.set(None); }>"Leave it"</button></p>
            </section>
        })
    }
}

/// A phone has less memory to spend.
fn most_work() -> u8 {
    let coarse = window().match_media("(pointer: coarse) and (max-width: 900px)").ok().flatten();
    if coarse.is_some_and(|query| query.matches()) { MAX_WORK_FACTOR_PHONE } else { MAX_WORK_FACTOR }
}
