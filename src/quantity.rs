//! Quantities with units: reading what installers write, and showing it in both unit systems.
//!
//! Knows nothing else. Each quantity is a newtype over a `uom` quantity, so that only the products
//! that physics allows compile; each holds a finite number, kept in SI.
//!
//! * [`read`] turns `4 ft 6 in` into a [`Length`], or says how to write it.
//! * [`show`] is the one place that turns a quantity into words.

pub mod read;
pub mod show;
pub mod size;

pub use read::{ReadError, Readable};
pub use show::Show;
pub use size::{CableSize, ColdCranking, CrankingScale, Thread};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $uom:ident, $si:ident, $symbol:literal, { $($unit:ident / $get:ident = $factor:expr),* $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
        pub struct $name(uom::si::f64::$uom);

        impl $name {
            /// The SI unit's symbol.
            pub const SYMBOL: &'static str = $symbol;
            /// Nothing of it.
            pub fn zero() -> Self { Self::from_si(0.0) }
            /// From a finite number in SI. A number that is not finite is a fault of the program.
            pub fn from_si(value: f64) -> Self {
                debug_assert!(value.is_finite(), concat!(stringify!($name), " must be finite"));
                Self(uom::si::f64::$uom::new::<$si>(value))
            }
            /// The number in SI.
            pub fn si(self) -> f64 { self.0.get::<$si>() }
            $(
                #[doc = concat!("From ", stringify!($unit), ".")]
                pub fn $unit(value: f64) -> Self { Self::from_si(value * $factor) }
                #[doc = concat!("In ", stringify!($unit), ".")]
                pub fn $get(self) -> f64 { self.si() / $factor }
            )*
            /// The larger of two.
            pub fn max(self, other: Self) -> Self { if other > self { other } else { self } }
            /// The smaller of two.
            pub fn min(self, other: Self) -> Self { if other < self { other } else { self } }
            /// Without its sign.
            pub fn abs(self) -> Self { Self::from_si(self.si().abs()) }
        }
        impl std::ops::Add for $name { type Output = Self; fn add(self, o: Self) -> Self { Self(self.0 + o.0) } }
        impl std::ops::Sub for $name { type Output = Self; fn sub(self, o: Self) -> Self { Self(self.0 - o.0) } }
        impl std::ops::Neg for $name { type Output = Self; fn neg(self) -> Self { Self(-self.0) } }
        impl std::ops::Mul<f64> for $name { type Output = Self; fn mul(self, o: f64) -> Self { Self::from_si(self.si() * o) } }
        impl std::ops::Div<f64> for $name { type Output = Self; fn div(self, o: f64) -> Self { Self::from_si(self.si() / o) } }
        impl std::ops::Div for $name { type Output = f64; fn div(self, o: Self) -> f64 { self.si() / o.si() } }
        impl std::iter::Sum for $name { fn sum<I: Iterator<Item = Self>>(all: I) -> Self { all.fold(Self::zero(), |a, b| a + b) } }
    };
}

quantity!(/// A voltage.
    Voltage, ElectricPotential, volt, "V", { volts / in_volts = 1.0, millivolts / in_millivolts = 1e-3 });
quantity!(/// A current.
    Current, ElectricCurrent, ampere, "A", { amps / in_amps = 1.0, kiloamps / in_kiloamps = 1e3 });
quantity!(/// A resistance.
    Resistance, ElectricalResistance, ohm, "Ω", { ohms / in_ohms = 1.0, milliohms / in_milliohms = 1e-3 });
quantity!(/// A length.
    Length, Length, meter, "m", { metres / in_metres = 1.0, millimetres / in_millimetres = 1e-3, feet / in_feet = 0.3048, inches / in_inches = 0.0254 });
quantity!(/// An area: a conductor's section, a vent, a plate.
    Area, Area, square_meter, "m²", { mm2 / in_mm2 = 1e-6, cm2 / in_cm2 = 1e-4, square_inches / in_square_inches = 0.0254 * 0.0254 });
quantity!(/// A span of time.
    Duration, Time, second, "s", { seconds / in_seconds = 1.0, minutes / in_minutes = 60.0, hours / in_hours = 3600.0 });
quantity!(/// A mass.
    Mass, Mass, kilogram, "kg", { kilograms / in_kilograms = 1.0, pounds / in_pounds = 0.453_592_37 });
quantity!(/// A power.
    Power, Power, watt, "W", { watts / in_watts = 1.0, kilowatts / in_kilowatts = 1e3 });
quantity!(/// An amount of charge: a battery's capacity.
    Charge, ElectricCharge, coulomb, "C", { amp_hours / in_amp_hours = 3600.0 });
quantity!(/// A force.
    Force, Force, newton, "N", { newtons / in_newtons = 1.0, pounds_force / in_pounds_force = 4.448_221_615_260_5 });
quantity!(/// A difference of temperature.
    TemperatureRise, TemperatureInterval, kelvin, "K", { kelvins / in_kelvins = 1.0 });
quantity!(/// A bare ratio; `1.35` is 135 %.
    Ratio, Ratio, ratio, "1", { of / in_ones = 1.0, percent / in_percent = 0.01 });

/// A temperature on the Celsius scale, kept in kelvins.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Temperature(uom::si::f64::ThermodynamicTemperature);

/// 0 °C in kelvins, exact by definition of the Celsius scale.
const ZERO_CELSIUS_K: f64 = 273.15;

impl Temperature {
    /// The SI unit's symbol.
    pub const SYMBOL: &'static str = "K";
    /// From a finite number of kelvins.
    pub fn from_si(kelvins: f64) -> Self {
        debug_assert!(kelvins.is_finite(), "Temperature must be finite");
        Self(uom::si::f64::ThermodynamicTemperature::new::<uom::si::thermodynamic_temperature::kelvin>(kelvins))
    }
    /// In kelvins.
    pub fn si(self) -> f64 {
        self.0.get::<uom::si::thermodynamic_temperature::kelvin>()
    }
    /// From degrees Celsius.
    pub fn celsius(value: f64) -> Self {
        Self::from_si(value + ZERO_CELSIUS_K)
    }
    /// In degrees Celsius.
    pub fn in_celsius(self) -> f64 {
        self.si() - ZERO_CELSIUS_K
    }
    /// From degrees Fahrenheit.
    pub fn fahrenheit(value: f64) -> Self {
        Self::celsius((value - 32.0) / 1.8)
    }
    /// In degrees Fahrenheit.
    pub fn in_fahrenheit(self) -> f64 {
        self.in_celsius() * 1.8 + 32.0
    }
    /// The higher of two.
    pub fn max(self, other: Self) -> Self {
        if other > self { other } else { self }
    }
    /// The lower of two.
    pub fn min(self, other: Self) -> Self {
        if other < self { other } else { self }
    }
}

impl std::ops::Sub for Temperature {
    type Output = TemperatureRise;
    fn sub(self, other: Self) -> TemperatureRise {
        TemperatureRise::kelvins(self.si() - other.si())
    }
}

impl std::ops::Add<TemperatureRise> for Temperature {
    type Output = Temperature;
    fn add(self, rise: TemperatureRise) -> Temperature {
        Temperature::from_si(self.si() + rise.si())
    }
}

macro_rules! product {
    ($a:ident * $b:ident = $c:ident) => {
        impl std::ops::Mul<$b> for $a {
            type Output = $c;
            fn mul(self, o: $b) -> $c {
                $c((self.0 * o.0).into())
            }
        }
        impl std::ops::Mul<$a> for $b {
            type Output = $c;
            fn mul(self, o: $a) -> $c {
                $c((self.0 * o.0).into())
            }
        }
        impl std::ops::Div<$b> for $c {
            type Output = $a;
            fn div(self, o: $b) -> $a {
                $a((self.0 / o.0).into())
            }
        }
        impl std::ops::Div<$a> for $c {
            type Output = $b;
            fn div(self, o: $a) -> $b {
                $b((self.0 / o.0).into())
            }
        }
    };
}

product!(Current * Resistance = Voltage);
product!(Voltage * Current = Power);
product!(Current * Duration = Charge);

// The units that the macro names.
use uom::si::area::square_meter;
use uom::si::electric_charge::coulomb;
use uom::si::electric_current::ampere;
use uom::si::electric_potential::volt;
use uom::si::electrical_resistance::ohm;
use uom::si::force::newton;
use uom::si::length::meter;
use uom::si::mass::kilogram;
use uom::si::power::watt;
use uom::si::ratio::ratio;
use uom::si::temperature_interval::kelvin;
use uom::si::time::second;
