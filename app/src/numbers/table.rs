//! Rows of figures under a plain heading.

use leptos::prelude::*;

use super::figure::Figure;

/// One row: a name, what it means, and a figure a column.
pub struct Row {
    name: &'static str,
    meaning: String,
    figures: Vec<Figure>,
}

/// A row of a table without columns' names.
pub fn row(name: &'static str, meaning: impl Into<String>, figure: Figure) -> Row {
    Row { name, meaning: meaning.into(), figures: vec![figure] }
}

/// A row with front and rear.
pub fn both<T>(
    name: &'static str,
    meaning: impl Into<String>,
    ends: [&T; 2],
    figure: impl Fn(&T) -> Figure,
) -> Row {
    Row { name, meaning: meaning.into(), figures: ends.into_iter().map(figure).collect() }
}

impl Row {
    fn view(self) -> impl IntoView {
        let Self { name, meaning, figures } = self;
        let across = figures.len() + 1;
        let cells = figures.into_iter().map(Figure::cell).collect_view();
        if meaning.is_empty() {
            return view! { <tr data-number=name><th scope="row">{name}</th>{cells}</tr> }.into_any();
        }
        view! {
            <tr data-number=name>
                <th scope="row"><abbr class="term" title=meaning.clone()>{name}</abbr></th>
                {cells}
            </tr>
            <tr class="explanation"><td colspan=across>{meaning}</td></tr>
        }
        .into_any()
    }
}

/// A table of single figures.
pub fn single(rows: impl IntoIterator<Item = Row>) -> impl IntoView {
    view! { <table><tbody>{rows.into_iter().map(Row::view).collect_view()}</tbody></table> }
}

/// A table of front and rear.
pub fn front_and_rear(rows: impl IntoIterator<Item = Row>) -> impl IntoView {
    view! {
        <table class="ends">
            <thead><tr>
                <td></td>
                <th scope="col"><i class="swatch front"></i>"front"</th>
                <th scope="col"><i class="swatch rear"></i>"rear"</th>
            </tr></thead>
            <tbody>{rows.into_iter().map(Row::view).collect_view()}</tbody>
        </table>
    }
}
