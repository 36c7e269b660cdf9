// Package quantity gives physical dimensions a type, so that centimetres are not taken for metres.
//
// Inside the program every value is SI. Write literals with their unit (10*[Centimetre]); read what people type
// with [ParseLength] and its fellows; print with the Text methods and a [System].
// It assumes nothing about the trade. It leaves out dimensional algebra: multiplying two quantities compiles and is a
// mistake, so convert to float64 in one visible place instead.
package quantity

// Length is a length, depth, thickness or distance in metres.
type Length float64

// Units of length. The foot is the international foot, 0.3048 m exactly.
const (
	Metre      Length = 1
	Millimetre        = Metre / 1000
	Centimetre        = Metre / 100
	Kilometre         = 1000 * Metre
	Inch              = 0.0254 * Metre
	Foot              = 0.3048 * Metre
	Yard              = 0.9144 * Metre
	Mile              = 1609.344 * Metre
)

// Metres gives the length as a plain number of metres.
func (l Length) Metres() float64 { return float64(l) }

// Centimetres gives the length in centimetres.
func (l Length) Centimetres() float64 { return float64(l / Centimetre) }

// Inches gives the length in inches.
func (l Length) Inches() float64 { return float64(l / Inch) }

// Feet gives the length in feet.
func (l Length) Feet() float64 { return float64(l / Foot) }

// Millimetres gives the length rounded to whole millimetres, the journal's unit.
func (l Length) Millimetres() int64 { return roundInt(float64(l / Millimetre)) }

// FromMillimetres reads the journal's unit.
func FromMillimetres(mm int64) Length { return Length(mm) * Millimetre }

// Mass is a mass in kilograms.
type Mass float64

// Units of mass. The pound is the avoirdupois pound, 0.45359237 kg exactly.
const (
	Kilogram Mass = 1
	Gram          = Kilogram / 1000
	Tonne         = 1000 * Kilogram
	Pound         = 0.45359237 * Kilogram
	ShortTon      = 2000 * Pound
)

// Kilograms gives the mass as a plain number of kilograms.
func (m Mass) Kilograms() float64 { return float64(m) }

// Pounds gives the mass in pounds.
func (m Mass) Pounds() float64 { return float64(m / Pound) }

// Speed is a speed in metres per second.
type Speed float64

// Units of speed.
const (
	MetrePerSecond   Speed = 1
	KilometrePerHour       = MetrePerSecond / 3.6
	MilePerHour            = 0.44704 * MetrePerSecond
	Knot                   = MetrePerSecond * 1852 / 3600
)

// MetresPerSecond gives the speed as a plain number of metres per second.
func (s Speed) MetresPerSecond() float64 { return float64(s) }

// KilometresPerHour gives the speed in kilometres per hour.
func (s Speed) KilometresPerHour() float64 { return float64(s / KilometrePerHour) }

// MilesPerHour gives the speed in miles per hour.
func (s Speed) MilesPerHour() float64 { return float64(s / MilePerHour) }

// Celsius is a temperature reading in degrees Celsius.
type Celsius float64

// CelsiusDelta is a difference of temperatures in kelvins; only it may be added or scaled.
type CelsiusDelta float64

// Fahrenheit makes a reading from degrees Fahrenheit.
func Fahrenheit(f float64) Celsius { return Celsius((f - 32) / 1.8) }

// Degrees gives the reading as a plain number of degrees Celsius.
func (c Celsius) Degrees() float64 { return float64(c) }

// Fahrenheit gives the reading in degrees Fahrenheit.
func (c Celsius) Fahrenheit() float64 { return float64(c)*1.8 + 32 }

// Plus adds a difference to a reading.
func (c Celsius) Plus(d CelsiusDelta) Celsius { return Celsius(float64(c) + float64(d)) }

// Minus gives the difference of two readings.
func (c Celsius) Minus(o Celsius) CelsiusDelta { return CelsiusDelta(float64(c) - float64(o)) }

// Bearing is a direction in degrees clockwise from true north, 0 <= b < 360.
type Bearing float64

// NewBearing brings any number of degrees into 0 <= b < 360.
func NewBearing(deg float64) Bearing {
	d := deg - 360*floor(deg/360)
	if d >= 360 { // a tiny negative number can round up to 360
		d = 0
	}
	return Bearing(d)
}

// Degrees gives the bearing as a plain number of degrees.
func (b Bearing) Degrees() float64 { return float64(b) }

// System is the unit system in which people read and type.
type System int

// The systems.
const (
	SI System = iota // metres, centimetres, kilograms, degrees Celsius, km/h
	US               // feet, inches, pounds, degrees Fahrenheit, mph
)

// ParseSystem reads "si" or "us".
func ParseSystem(s string) (System, bool) {
	switch s {
	case "si", "SI", "metric":
		return SI, true
	case "us", "US", "imperial":
		return US, true
	}
	return SI, false
}

func (s System) String() string {
	if s == US {
		return "us"
	}
	return "si"
}
