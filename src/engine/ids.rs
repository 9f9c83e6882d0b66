//! Dense ids: an id is a place in the plan's list, so looking one up is an index.

macro_rules! id {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub u32);
        impl $name {
            pub fn index(self) -> usize { self.0 as usize }
        }
    )*};
}

id! {
    /// A link: one Modbus session.
    LinkId;
    /// A transmitter, of whatever it reads.
    TransmitterId;
    /// A contact: an on/off input.
    ContactId;
    /// A tank.
    TankId;
    /// An alarm; dense over the whole site, each tank's alarms side by side.
    AlarmId;
    /// A command's own number, for its answer.
    CommandId;
}
