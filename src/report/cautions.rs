//! What everybody who relies on a document of this program must know. The README has the same words; a test
//! compares them.

pub const CAUTIONS: [&str; 11] = [
    "It is not a safety instrumented system and has no SIL. It is not an independent overfill prevention system: it \
     shares its sensor with the indication, so it is no independent layer of protection.",
    "Nothing may be controlled, interlocked or tripped from its outputs.",
    "Loss of power, of the network or of this program removes its alarms. MQTT, e-mail and webhooks are no guaranteed \
     path to a person.",
    "It is not for custody transfer or tax, and no leak detection in the sense of a regulation.",
    "Local codes and licensed practice decide. Testing at intervals is the owner's duty.",
    "Level is inferred from weight. Foam, boiling, emulsion, ice and layers are not seen, nor anything outside the \
     taps. A dry leg flooded by overfilling reads empty.",
    "At a boiler the direct water gauge and the low-water cut-out rule; for liquefied gas, the legal filling limit.",
    "Isolate, vent, equalise and blow down only under the site's permit. Blowing down a wet leg empties it, and the \
     level then reads falsely high.",
    "A serial Modbus line has one master. Many devices take only one to four TCP sessions, and a new one may push out \
     the controller.",
    "A zero trim in the transmitter and `zero` in the site file count twice.",
    "Demo, simulated and test data are marked SIMULATED and have a topic prefix of their own.",
];
