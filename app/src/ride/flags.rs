//! Flags of the marks and of what others remarked on, at the top of the plot.

use leptos::prelude::*;

use super::marks::marks;
use super::view::View;
use crate::hand_over::moments_said;
use crate::store::store;

#[component]
pub fn Flags(view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let all = Memo::new(move |_| marks(store));
    let said = Memo::new(move |_| moments_said(store));
    let flags = move || {
        let flag = |kind: &'static str, time_s: f64, name: String| {
            let place = move || view.get().place(time_s);
            view! {
                <span class=kind hidden=move || !(0.0..=1.0).contains(&place()) style:left=move || format!("{:.4}%", place() * 100.0)>
                    {name}
                </span>
            }
        };
        let marks = all.get().into_iter().map(|mark| flag("flag", mark.time_s, mark.name));
        let said = said.get().into_iter().map(|(time_s, author)| flag("flag remarked", time_s, author));
        marks.chain(said).collect_view()
    };
    view! { <div class="flags" aria-hidden="true">{flags}</div> }
}
