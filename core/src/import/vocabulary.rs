//! The words of headers in several languages, and what they speak of.

use super::header::words;

/// What a word of a header speaks of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Word {
    Front,
    Rear,
    Travel,
    Fork,
    Shock,
    Brake,
    Pressure,
    Wheel,
    Axle,
    Speed,
    Turning,
    Pulses,
    Accel,
    Gyro,
    Magnet,
    /// `gx` alone: a turn rate or an acceleration in g.
    AccelOrGyro,
    Rate,
    X,
    Y,
    Z,
    Frame,
    Bar,
    Latitude,
    Longitude,
    Height,
    Course,
    Stroke,
    Gps,
    Temperature,
    /// Says that the column is about something else: a quality figure, a tyre, a target.
    Other,
}

use Word::*;

/// English, German, French, Spanish and Italian, accents left out. `*` stands for any letters.
const VOCABULARY: &[(Word, &str)] = &[
    (
        Front,
        "front fr f fwd vorn vorne vorder* avant av delantero delantera del anteriore anterior ant \
         davanti",
    ),
    (
        Rear,
        "rear r rr back hinten hinter* arriere ar arr trasero trasera tras posteriore posterior post \
         dietro retro",
    ),
    (
        Travel,
        "travel *federweg weg einfederung suspension susp displacement disp pos position poti \
         potentiometer pot linpot compression debattement enfoncement recorrido corsa escursione \
         sospensione *hub",
    ),
    (Fork, "fork *gabel fourche horquilla forcella"),
    (Shock, "shock damper *dampfer *daempfer *federbein amortisseur amortiguador ammortizzatore mono"),
    (Brake, "brake brakes *brems* frein freins freno frenos freni"),
    (Pressure, "pressure press p *druck* pression presion pressione"),
    (Wheel, "wheel whl *rad *raddrehzahl roue rueda ruota"),
    (Axle, "axle axis *achse hub unsprung swingarm schwinge essieu eje asse lowers"),
    (Speed, "speed spd vel velocity v *geschw* vitesse velocidad velocita sog"),
    (Turning, "rpm *drehzahl revs rotation giri tours"),
    (
        Pulses,
        "pulse pulses *impuls *impulse impulsion impulsions impulsi pulsos count counts cnt ticks \
         teeth",
    ),
    (
        Accel,
        "acc accel acceleration accelerometer accelero a *beschl* acel aceleracion acelerometro \
         accelerazione accelerometro accelerometre",
    ),
    (Gyro, "gyro gyr gyroscope gyroskop giro giroscopio *drehrate omega"),
    (Magnet, "mag magn magnet magneto magnetometer *magnetfeld magnetometre magnetometro"),
    (Rate, "rate *rate angular"),
    (X, "x longitudinal longi *langs* *laengs*"),
    (Y, "y lateral quer transversal laterale"),
    (Z, "z vertical vert vertikal verticale"),
    (Frame, "frame chassis rahmen cadre cuadro telaio"),
    (Bar, "bar handlebar bars lenker guidon manillar manubrio stem"),
    (Latitude, "lat latitude breite breitengrad latitud latitudine"),
    (Longitude, "lon lng long longitude lange laenge langengrad laengengrad longitud longitudine"),
    (Height, "alt altitude height hohe hoehe ele elev elevation altitud altura quota altezza hauteur"),
    (Course, "heading bearing cog kurs cap rumbo rotta"),
    (Stroke, "stroke course"),
    (Gps, "gps gnss ground"),
    (Temperature, "temp temperature temperatur temperatura"),
    (
        Other,
        "accuracy genauigkeit precision hdop vdop pdop dop sat sats satellites satelliten status \
         quality flag valid fix std sigma error err variance target setpoint max min avg mean mittel \
         tyre tire *reifen* pneu gomma neumatico air luft *luftdruck baro barometer barometric atm \
         ambient ride linear lin gravity helmet helm rider heart puls cadence power battery batt \
         voltage lap angle winkel engine motor dist distance strecke hacc vacc",
    ),
];

fn matches(pattern: &str, word: &str) -> bool {
    match (pattern.strip_prefix('*'), pattern.strip_suffix('*')) {
        (Some(_), Some(_)) => word.contains(pattern.trim_matches('*')),
        (Some(end), None) => word.ends_with(end),
        (None, Some(start)) => word.starts_with(start),
        (None, None) => word == pattern,
    }
}

/// The words of one header by what they speak of, as a set.
pub(super) struct Said(u64);

impl Said {
    pub(super) fn new(header: &str) -> Self {
        let mut said = Self(0);
        let words = words(header);
        for word in &words {
            for (kind, patterns) in VOCABULARY {
                if patterns.split_whitespace().any(|pattern| matches(pattern, word)) {
                    said.add(*kind);
                }
            }
            said.add_joined(word);
        }
        for (angle, axis) in [(["roll", "wank"], X), (["pitch", "nick"], Y), (["yaw", "gier"], Z)] {
            if words.iter().any(|word| angle.contains(&word.trim_end_matches("rate"))) {
                said.add(axis);
                said.add(if said.any(&[Rate, Gyro]) { Gyro } else { Other });
            }
        }
        said
    }

    /// `accx`, `gyroz`, `ax`, `gy`: a sensor and its axis in one word.
    fn add_joined(&mut self, word: &str) {
        let axes = [("x", X), ("y", Y), ("z", Z)];
        let Some((stem, axis)) = axes.iter().find_map(|&(end, axis)| Some((word.strip_suffix(end)?, axis)))
        else {
            return;
        };
        let sensor = match stem {
            "a" | "acc" | "accel" | "acel" | "beschl" => Accel,
            "gyr" | "gyro" | "giro" | "w" | "omega" => Gyro,
            "m" | "mag" => Magnet,
            "g" => AccelOrGyro,
            _ => return,
        };
        self.add(sensor);
        self.add(axis);
    }

    fn add(&mut self, word: Word) {
        self.0 |= 1 << word as u64;
    }

    pub(super) fn says(&self, word: Word) -> bool {
        self.0 & (1 << word as u64) != 0
    }

    pub(super) fn any(&self, words: &[Word]) -> bool {
        words.iter().any(|&word| self.says(word))
    }
}
