//! How a file was read, and how to read it another way.

use evenkeel_core::Quantity;
use evenkeel_core::Unit;
use evenkeel_core::import::{Encoding, Format, Layout, TimeBase};
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::field::NumberField;
use crate::store::store;
use crate::worker::{Failure, SourceInfo};

#[component]
pub fn LayoutForm(info: SourceInfo) -> impl IntoView {
    let store = store();
    let layout = RwSignal::new(info.layout.clone());
    let file = StoredValue::new(info.file.clone());
    let problem = RwSignal::new(None::<String>);
    let read_again = move |_| {
        let Some(file) = store.file(&file.get_value()) else { return };
        let wanted = layout.get_untracked();
        spawn_local(async move {
            problem.set(match store.open(file, Some(wanted)).await {
                Ok(_) | Err(Failure::Cancelled) => None,
                Err(Failure::Problem(problem)) => Some(problem),
            });
        });
    };
    // A standard says how its files are written: there is nothing to correct.
    if info.layout.format != Format::DelimitedText {
        return view! { <p class="quiet">{words(&info.layout)}</p> }.into_any();
    }
    view! {
        <details class="layout">
            <summary>{move || words(&layout.get())}</summary>
            <div class="fields">
                <Choice label="Encoding" options=&[("UTF-8", Encoding::Utf8), ("UTF-16 LE", Encoding::Utf16Le), ("UTF-16 BE", Encoding::Utf16Be), ("Latin-1", Encoding::Latin1)]
                    value=Signal::derive(move || layout.get().encoding) on_change=move |v| layout.update(|l| l.encoding = v)/>
                <Choice label="Separator" options=&[("comma", ','), ("semicolon", ';'), ("tab", '\t'), ("bar", '|')]
                    value=Signal::derive(move || layout.get().delimiter) on_change=move |v| layout.update(|l| l.delimiter = v)/>
                <Choice label="Decimal" options=&[("point", '.'), ("comma", ',')]
                    value=Signal::derive(move || layout.get().decimal) on_change=move |v| layout.update(|l| l.decimal = v)/>
                <NumberField label="Lines before the numbers" digits=0 value=Signal::derive(move || layout.get().skip_lines as f64)
                    on_change=move |v| layout.update(|l| l.skip_lines = v.max(0.0) as usize)/>
                <TimeFields layout/>
                <button on:click=read_again>"Read the file this way"</button>
            </div>
            {move || problem.get().map(|problem| view! { <p class="wrong" role="alert">{problem}" What was read before is kept."</p> })}
        </details>
    }
    .into_any()
}

/// Where time comes from.
#[component]
fn TimeFields(layout: RwSignal<Layout>) -> impl IntoView {
    let column = move || match layout.get().time {
        TimeBase::Number { column, .. } | TimeBase::Clock { column } | TimeBase::Index { column, .. } => {
            Some(column)
        }
        TimeBase::Rate { .. } | TimeBase::Unknown => None,
    };
    let rate = move || match layout.get().time {
        TimeBase::Index { rate_hz, .. } | TimeBase::Rate { rate_hz } => rate_hz,
        _ => 0.0,
    };
    let unit = move || match layout.get().time {
        TimeBase::Number { unit, .. } => Some(unit.symbol().to_owned()),
        TimeBase::Clock { .. } => Some("clock".to_owned()),
        TimeBase::Index { .. } => Some("index".to_owned()),
        TimeBase::Rate { .. } | TimeBase::Unknown => None,
    };
    let set = move |column: Option<usize>, unit: Option<String>, rate_hz: f64| {
        layout.update(|layout| {
            layout.time = match (column, unit.as_deref()) {
                (None, _) if rate_hz > 0.0 => TimeBase::Rate { rate_hz },
                (None, _) => TimeBase::Unknown,
                (Some(column), Some("clock")) => TimeBase::Clock { column },
                (Some(column), Some("index")) => TimeBase::Index { column, rate_hz },
                (Some(column), unit) => {
                    TimeBase::Number { column, unit: unit.and_then(Unit::parse).unwrap_or(Unit::Second) }
                }
            };
        });
    };
    let columns = move || {
        let headers = layout.get().headers.into_iter().enumerate();
        headers
            .map(|(i, name)| view! { <option value=i selected=column() == Some(i)>{name}</option> })
            .collect_view()
    };
    let units = move || {
        let times =
            Unit::ALL.iter().filter(|unit| unit.quantity() == Quantity::Time).map(|unit| unit.symbol());
        times
            .chain(["clock", "index"])
            .map(|name| view! { <option value=name selected=unit().as_deref() == Some(name)>{name}</option> })
            .collect_view()
    };
    view! {
        <label class="field">
            <span>"Time column"</span>
            <select on:change:target=move |e| set(e.target().value().parse().ok(), unit(), rate())>
                <option value="none" selected=move || column().is_none()>"none"</option>
                {columns}
            </select>
        </label>
        <Show when=move || column().is_some()>
            <label class="field">
                <span>"Time unit"</span>
                <select on:change:target=move |e| set(column(), Some(e.target().value()), rate())>{units}</select>
            </label>
        </Show>
        <NumberField label="Rate, where no time is logged" unit="Hz" digits=3 value=Signal::derive(rate)
            on_change=move |v| set(column(), unit(), v)/>
    }
}

/// One of a few named values.
#[component]
fn Choice<T: Copy + PartialEq + Send + Sync + 'static>(
    label: &'static str,
    options: &'static [(&'static str, T)],
    value: Signal<T>,
    on_change: impl Fn(T) + Send + Sync + 'static,
) -> impl IntoView {
    let items = options.iter().enumerate().map(|(i, (name, option))| {
        view! { <option value=i selected=move || value.get() == *option>{*name}</option> }
    });
    view! {
        <label class="field">
            <span>{label}</span>
            <select on:change:target=move |event| {
                if let Some((_, value)) = event.target().value().parse::<usize>().ok().and_then(|i| options.get(i)) {
                    on_change(*value);
                }
            }>{items.collect_view()}</select>
        </label>
    }
}

/// How a file is written, in a line.
fn words(layout: &Layout) -> String {
    match layout.format {
        Format::Gpx => "GPX 1.1 track: time, position, height and speed where it has them".to_owned(),
        Format::Nmea => {
            "NMEA 0183 sentences: time, position, height, speed and course where it has them".to_owned()
        }
        Format::DelimitedText => format!("Text: {}", text_words(layout)),
    }
}

fn text_words(layout: &Layout) -> String {
    let encoding = match layout.encoding {
        Encoding::Utf8 => "UTF-8",
        Encoding::Utf16Le => "UTF-16 LE",
        Encoding::Utf16Be => "UTF-16 BE",
        Encoding::Latin1 => "Latin-1",
    };
    let separator = match layout.delimiter {
        ',' => "comma".to_owned(),
        ';' => "semicolon".to_owned(),
        '\t' => "tab".to_owned(),
        '|' => "bar".to_owned(),
        other => other.to_string(),
    };
    let decimal = if layout.decimal == ',' { "comma" } else { "point" };
    let header = |column: usize| layout.headers.get(column).map_or("?", String::as_str);
    let time = match layout.time {
        TimeBase::Number { column, unit } => format!("time from “{}” in {unit}", header(column)),
        TimeBase::Clock { column } => format!("time of day from “{}”", header(column)),
        TimeBase::Index { column, rate_hz } => {
            format!("time from index “{}” at {rate_hz} Hz", header(column))
        }
        TimeBase::Rate { rate_hz } => format!("no time column, {rate_hz} Hz"),
        TimeBase::Unknown => "no time column: type the rate".to_owned(),
    };
    format!("{encoding}, separated by {separator}, decimal {decimal}, {time}")
}
