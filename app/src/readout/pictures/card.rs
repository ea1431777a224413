//! A picture, its numbers as a table, the figures that go with it, and the way to its place in Ride.

use evenkeel_core::NotMeasured;
use leptos::prelude::*;

use crate::save_picture::SavePicture;

/// With this begins what a caption says of the screen alone.
const SCREEN_ONLY: &str = " A click goes there.";

/// What is drawn of something, or why there is nothing.
pub struct Picture {
    /// What it shows, below it.
    pub caption: &'static str,
    pub drawn: Result<AnyView, NotMeasured>,
    /// The same as a table.
    pub table: AnyView,
}

impl Picture {
    pub fn view(self) -> AnyView {
        match self.drawn {
            Ok(drawn) => view! {
                <figure class="pictured">
                    <div data-picture>{drawn}<figcaption>{self.caption}</figcaption></div>
                    <div class="below-picture">
                        <details class="as-table"><summary>"As a table"</summary><div class="scroll">{self.table}</div></details>
                        <SavePicture name=self.caption/>
                    </div>
                </figure>
            }
            .into_any(),
            Err(reason) => view! {
                <figure><p class="empty">{reason.to_string()}</p><figcaption>{self.caption}</figcaption></figure>
            }
            .into_any(),
        }
    }

    /// Without what has to be clicked.
    pub fn on_paper(self) -> AnyView {
        let drawn = self
            .drawn
            .unwrap_or_else(|reason| view! { <p class="empty">{reason.to_string()}</p> }.into_any());
        let caption = self.caption.split(SCREEN_ONLY).next().unwrap_or_default();
        view! { <figure>{drawn}<figcaption>{caption}</figcaption></figure> }.into_any()
    }
}

/// One subject of the read-out.
pub fn card(title: &'static str, pictures: Vec<Picture>, figures: AnyView, go: Callback<()>) -> AnyView {
    view! {
        <section class="card" aria-label=title>
            <header>
                <h2>{title}</h2>
                <button class="small" on:click=move |_| go.run(())>"In Ride"</button>
            </header>
            {pictures.into_iter().map(Picture::view).collect_view()}
            <div class="numbers">{figures}</div>
        </section>
    }
    .into_any()
}

/// A table of columns' names and rows of text; the first cell of a row is its name.
pub fn table(columns: &[&'static str], rows: Vec<Vec<String>>) -> AnyView {
    let head = columns.iter().map(|name| view! { <th scope="col">{*name}</th> }).collect_view();
    let rows = rows.into_iter().map(|row| {
        let mut cells = row.into_iter();
        let name = cells.next().unwrap_or_default();
        let cells = cells.map(|cell| view! { <td>{cell}</td> }).collect_view();
        view! { <tr><th scope="row">{name}</th>{cells}</tr> }
    });
    view! { <table><thead><tr>{head}</tr></thead><tbody>{rows.collect_view()}</tbody></table> }.into_any()
}

/// The same, each row's name a button that goes to its moment.
pub fn moments(
    columns: &[&'static str],
    rows: Vec<([f64; 2], Vec<String>)>,
    go: Callback<[f64; 2]>,
) -> AnyView {
    if rows.is_empty() {
        return view! { <p class="quiet">"None here."</p> }.into_any();
    }
    let head = columns.iter().map(|name| view! { <th scope="col">{*name}</th> }).collect_view();
    let rows = rows.into_iter().map(|(span, cells)| {
        let at = evenkeel_core::align::moment::format(span[0], 0.1);
        let cells = cells.into_iter().map(|cell| view! { <td>{cell}</td> }).collect_view();
        view! {
            <tr>
                <th scope="row"><button class="moment" title="See it in Ride" on:click=move |_| go.run(span)>{at}</button></th>
                {cells}
            </tr>
        }
    });
    view! { <table><thead><tr>{head}</tr></thead><tbody>{rows.collect_view()}</tbody></table> }.into_any()
}
