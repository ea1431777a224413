//! Read-outs that hold groups of numbers.

/// A struct some of whose fields are groups, named last: in JSON their numbers stand among its own, in bytes each group
/// by itself, since bytes have no names by which to tell them apart. It is read from bytes only.
macro_rules! grouped {
    (
        $(#[$about:meta])*
        pub struct $name:ident {
            $($(#[$of_field:meta])* pub $field:ident: $kind:ty,)*
        }
        groups {
            $($(#[$of_group:meta])* pub $group:ident: $group_kind:ty,)*
        }
    ) => {
        $(#[$about])*
        #[derive(Clone, Debug, PartialEq, serde::Deserialize)]
        pub struct $name {
            $($(#[$of_field])* pub $field: $kind,)*
            $($(#[$of_group])* pub $group: $group_kind,)*
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                #[derive(serde::Serialize)]
                struct Among<'a> {
                    $($field: &'a $kind,)*
                    $(#[serde(flatten)] $group: &'a $group_kind,)*
                }
                #[derive(serde::Serialize)]
                struct Apart<'a> {
                    $($field: &'a $kind,)*
                    $($group: &'a $group_kind,)*
                }
                let Self { $($field,)* $($group,)* } = self;
                if serializer.is_human_readable() {
                    Among { $($field,)* $($group,)* }.serialize(serializer)
                } else {
                    Apart { $($field,)* $($group,)* }.serialize(serializer)
                }
            }
        }
    };
}

pub(crate) use grouped;
