//! A pair of keys for a coach: one to keep, one to give away.

use evenkeel_seal::{Ask, Told};
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::secret_field::SecretField;
use crate::save::save_text;
use crate::store::store;
use crate::worker::Failure;

#[component]
pub fn KeysCard() -> impl IntoView {
    let sealer = store().hand_over.sealer;
    let pair = RwSignal::new(None::<(String, String)>);
    let secret = RwSignal::new(String::new());
    let wrong = RwSignal::new(String::new());
    let ask = move |ask: Ask| {
        wrong.set(String::new());
        spawn_local(async move {
            match sealer.ask("Making keys", ask, None).await {
                Ok((Told::Keys { secret, public }, _)) => drop(pair.try_set(Some((secret, public)))),
                Ok(_) | Err(Failure::Cancelled) => {}
                Err(Failure::Problem(problem)) => drop(wrong.try_set(problem)),
            }
        });
    };
    let show = move || ask(Ask::KeysOf { secret: secret.get_untracked() });
    let shown = move || {
        let (secret, public) = pair.get()?;
        let (to_save, to_tell) = (secret.clone(), public.clone());
        let save = move |_| {
            let text =
                format!("# A secret key: keep it, show it to nobody.\n# public key: {to_tell}\n{to_save}\n");
            save_text(&text, "text/plain", "secret-key.txt");
        };
        Some(view! {
            <label class="field wide">
                <span>"Public key: send it to whoever seals files for you"</span>
                <input id="public-key" readonly prop:value=public/>
            </label>
            <label class="field wide">
                <span>"Secret key: keep it where only you can read it; it is not kept here"</span>
                <input id="secret-key" readonly prop:value=secret/>
            </label>
            <p class="buttons"><button on:click=save>"Save the secret key as a file"</button></p>
        })
    };
    view! {
        <section class="card" aria-label="Keys">
            <details>
                <summary><b>"Keys for sealed files"</b></summary>
                <p class="quiet">"A coach makes a pair of keys once. What is sealed with the public one opens with the secret one and with nothing else; no passphrase has to be told."</p>
                <p class="buttons"><button id="new-keys" on:click=move |_| ask(Ask::NewKeys)>"Make a pair of keys"</button></p>
                <div class="fields">
                    <SecretField label="Or a secret key you have, to see its public one" secret done=move |()| show()/>
                    <button on:click=move |_| show()>"Show"</button>
                </div>
                <p class="wrong" role="alert">{move || wrong.get()}</p>
                {shown}
            </details>
        </section>
    }
}
