//! Flags of the marks at the top of the plot.

use leptos::prelude::*;

use super::marks::marks;
use super::view::View;
use crate::store::store;

#[component]
pub fn Flags(view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let all = Memo::new(move |_| marks(store));
    let flags = move || {
        let flag = |mark: evenkeel_core::MarkedMoment| {
            let place = move || view.get().place(mark.time_s);
            view! {
                <span class="flag" hidden=move || !(0.0..=1.0).contains(&place()) style:left=move || format!("{:.4}%", place() * 100.0)>
                    {mark.name}
                </span>
            }
        };
        all.get().into_iter().map(flag).collect_view()
    };
    view! { <div class="flags" aria-hidden="true">{flags}</div> }
}
