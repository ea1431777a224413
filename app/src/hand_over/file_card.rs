//! The day as a file, open or sealed.

use evenkeel_seal::{Ask, Told, WORK_FACTOR};
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::chosen_runs::ChosenRuns;
use super::contents::WhatLeaves;
use super::prepared::{Prepared, Preparing};
use super::random;
use crate::field::Choice;
use crate::save::{file_name, save, size};
use crate::store::store;
use crate::worker::Failure;

/// How a file is locked.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Lock {
    Open,
    Passphrase,
    Keys,
}

const LOCKS: [(Lock, &str); 3] = [
    (Lock::Passphrase, "a passphrase"),
    (Lock::Keys, "a coach's public key"),
    (Lock::Open, "nothing: anybody can open it"),
];

#[component]
pub fn FileCard() -> impl IntoView {
    let store = store();
    let sealer = store.hand_over.sealer;
    let copy = RwSignal::new(true);
    let left_out = RwSignal::new(Vec::new());
    let lock = RwSignal::new(Lock::Passphrase);
    let typed = [RwSignal::new(String::new()), RwSignal::new(String::new())];
    let shown = RwSignal::new(false);
    let keys = RwSignal::new(String::new());
    let preparing = Preparing::new(copy, left_out);
    let Preparing { prepared, wrong, .. } = preparing;
    let leave = move |_| {
        let Some(Prepared { file, .. }) = prepared.get_untracked() else { return };
        let name = file_name(&store.day.with_untracked(|day| day.name.clone()));
        let ask = match asked(
            lock.get_untracked(),
            typed.map(|field| field.get_untracked()),
            &keys.get_untracked(),
        ) {
            Ok(Some(ask)) => ask,
            Ok(None) => return save(&file, &format!("{name}.zip")),
            Err(problem) => return wrong.set(problem.to_owned()),
        };
        wrong.set(String::new());
        spawn_local(async move {
            match sealer.ask("Sealing the file", ask, Some(&file)).await {
                Ok((Told::Bytes, Some(sealed))) => save(&sealed, &format!("{name}.zip.age")),
                Ok(_) => drop(wrong.try_set("the sealing worker sent no file; try again".to_owned())),
                Err(Failure::Cancelled) => {}
                Err(Failure::Problem(problem)) => drop(wrong.try_set(format!("Not sealed: {problem}."))),
            }
        });
    };
    let suggest = move |_| match random::passphrase() {
        Ok(passphrase) => {
            typed.iter().for_each(|field| field.set(passphrase.clone()));
            shown.set(true);
        }
        Err(problem) => wrong.set(problem),
    };
    let field = move |which: usize, label: &'static str| {
        view! {
            <label class="field wide">
                <span>{label}</span>
                <input
                    id=format!("passphrase-{which}")
                    type=move || if shown.get() { "text" } else { "password" }
                    autocomplete="new-password"
                    prop:value=move || typed[which].get()
                    on:input:target=move |event| typed[which].set(event.target().value())
                />
            </label>
        }
    };
    let locking = move || {
        match lock.get() {
        Lock::Open => ().into_any(),
        Lock::Passphrase => view! {
            <div class="fields">
                {field(0, "Passphrase")}
                {field(1, "The same again")}
                <button type="button" id="suggest" on:click=suggest>"Suggest a strong one"</button>
                <label class="tick"><input type="checkbox" prop:checked=move || shown.get() on:change:target=move |event| shown.set(event.target().checked())/>"Show it"</label>
            </div>
            {move || shown.get().then(|| view! { <p class="said">{typed[0].get()}</p> })}
            <p class="quiet">{format!("Whoever guesses it reads everything, so a short one is as good as none. Sealing and opening take {} MB of memory for some seconds.", (2 * 128 * 8_u64) << WORK_FACTOR >> 20)}</p>
        }
        .into_any(),
        Lock::Keys => view! {
            <label class="field wide">
                <span>"Public keys of those who may open it, one a line (age1…)"</span>
                <textarea id="recipients" rows="2" autocomplete="off" prop:value=move || keys.get() on:input:target=move |event| keys.set(event.target().value())></textarea>
            </label>
        }
        .into_any(),
    }
    };
    view! {
        <section class="card" aria-label="File">
            <h2>"Save the day as a file"</h2>
            <div class="fields">
                <Choice
                    label="For"
                    id="file-for"
                    chosen=copy
                    options=vec![(true, "somebody else: read-only, with remarks"), (false, "yourself, to go on elsewhere")]
                />
                <Choice label="Locked with" id="file-lock" chosen=lock options=LOCKS.to_vec()/>
            </div>
            <ChosenRuns left_out/>
            {locking}
            <p class="buttons"><button id="list-file" on:click=move |_| preparing.prepare()>"Show what is in it"</button></p>
            {move || prepared.get().map(|made| {
                let told = size(made.file.size());
                view! {
                    <WhatLeaves contents=made.contents who=who(lock.get())/>
                    <p class="buttons">
                        <button class="main" id="save-file" on:click=leave>
                            {if lock.get() == Lock::Open { format!("Save the file ({told})") } else { format!("Seal and save it ({told})") }}
                        </button>
                    </p>
                }
            })}
            <p class="wrong" role="alert" id="file-wrong">{move || wrong.get()}</p>
        </section>
    }
}

fn who(lock: Lock) -> String {
    match lock {
        Lock::Open => "Anybody who gets the file.",
        Lock::Passphrase => "Whoever has the file and knows the passphrase. Tell it by another way than the file goes.",
        Lock::Keys => "Whoever has the file and one of the secret keys that belong to these public ones. Without one you cannot open it either.",
    }
    .to_owned()
}

/// What the sealing worker is to do; nothing for an open file.
fn asked(lock: Lock, [passphrase, again]: [String; 2], keys: &str) -> Result<Option<Ask>, &'static str> {
    match lock {
        Lock::Open => Ok(None),
        Lock::Passphrase if passphrase.is_empty() => Err("Type a passphrase twice, or let one be suggested."),
        Lock::Passphrase if passphrase != again => Err("The two passphrases differ: type the same twice."),
        Lock::Passphrase => Ok(Some(Ask::SealByPassphrase { passphrase })),
        Lock::Keys => {
            let keys: Vec<String> = keys.split_whitespace().map(str::to_owned).collect();
            if keys.is_empty() {
                return Err("Paste the public key of whoever is to open it; it begins with age1.");
            }
            Ok(Some(Ask::SealByKeys { keys }))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_sealed_with_what_was_typed_once() {
        let twice = |a: &str, b: &str| asked(Lock::Passphrase, [a.to_owned(), b.to_owned()], "");
        assert!(twice("", "").is_err() && twice("one", "two").is_err());
        assert!(matches!(twice("same", "same"), Ok(Some(Ask::SealByPassphrase { .. }))));
        assert!(asked(Lock::Keys, Default::default(), " \n").is_err());
        assert!(matches!(asked(Lock::Open, Default::default(), ""), Ok(None)));
    }
}
