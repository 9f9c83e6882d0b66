//! What holds whatever comes: levels go through the plant and the engine and back, no register makes a
//! number that is none, alarms do not chatter and keep to the table of their states, a product leaves no trace.

mod properties {
    mod alarms;
    mod lifecycle;
    mod products;
    mod round_trip;
    mod words;
}
