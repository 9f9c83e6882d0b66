//! What holds whatever comes: levels go through the plant and the engine and back, no register makes a
//! number that is none, alarms do not chatter and keep to the table of their states.

mod properties {
    mod alarms;
    mod lifecycle;
    mod round_trip;
    mod words;
}
