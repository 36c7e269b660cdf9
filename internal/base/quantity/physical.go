package quantity

// The quantities of the physical models. Each is its SI unit; multiply a literal by the unit constant.

// Angle is an angle that is not a compass direction, in degrees: the sun's elevation, a slope, half a beam.
type Angle float64

// Units of angle.
const (
	Degree    Angle = 1
	ArcMinute       = Degree / 60
)

// Degrees gives the angle as a plain number of degrees.
func (a Angle) Degrees() float64 { return float64(a) }

// Radians gives the angle as a plain number of radians.
func (a Angle) Radians() float64 { return float64(a) * (3.14159265358979323846 / 180) }

// Pressure is a pressure or stress in pascals.
type Pressure float64

// Units of pressure. A kilogram-force or pound-force is the mass times the standard gravity 9.80665 m/s2, exactly.
const (
	Pascal                      Pressure = 1
	Hectopascal                          = 100 * Pascal
	KilogramPerSquareCentimetre          = 98066.5 * Pascal
	PoundPerSquareInch                   = Pascal * 0.45359237 * 9.80665 / (0.0254 * 0.0254)
)

// Pascals gives the pressure as a plain number of pascals.
func (p Pressure) Pascals() float64 { return float64(p) }

// Density is a mass by volume in kilograms per cubic metre.
type Density float64

// Units of density.
const (
	KilogramPerCubicMetre  Density = 1
	GramPerCubicCentimetre         = 1000 * KilogramPerCubicMetre
)

// SurfaceDensity is a mass by area in kilograms per square metre: the snow that a sheet of ice carries.
type SurfaceDensity float64

// KilogramPerSquareMetre is the unit of surface density.
const KilogramPerSquareMetre SurfaceDensity = 1

// Conductivity is a thermal conductivity in watts per metre and kelvin.
type Conductivity float64

// WattPerMetreKelvin is the unit of conductivity.
const WattPerMetreKelvin Conductivity = 1

// HeatTransfer is a bulk coefficient of heat transfer in watts per square metre and kelvin.
type HeatTransfer float64

// WattPerSquareMetreKelvin is the unit of heat transfer.
const WattPerSquareMetreKelvin HeatTransfer = 1

// Irradiance is a power by area in watts per square metre: sunlight, or a flux of heat.
type Irradiance float64

// WattPerSquareMetre is the unit of irradiance.
const WattPerSquareMetre Irradiance = 1

// Illuminance is light as an eye weighs it, by area, in lux.
type Illuminance float64

// Lux is the unit of illuminance.
const Lux Illuminance = 1

// Attenuation is an exponential loss by length, in 1/m.
type Attenuation float64

// PerMetre is the unit of attenuation.
const PerMetre Attenuation = 1

// DegreeDays is a difference of temperature summed over time, in degrees Celsius times days.
type DegreeDays float64

// Units of degree-days.
const (
	CelsiusDay    DegreeDays = 1
	FahrenheitDay            = CelsiusDay / 1.8
)

// Area is an area in square metres.
type Area float64

// Units of area.
const (
	SquareMetre     Area = 1
	Hectare              = 10000 * SquareMetre
	SquareKilometre      = 1000000 * SquareMetre
)

// Volume is a volume in cubic metres.
type Volume float64

// CubicMetre is the unit of volume.
const CubicMetre Volume = 1

// Frequency is a frequency in hertz.
type Frequency float64

// Units of frequency.
const (
	Hertz     Frequency = 1
	Kilohertz           = 1000 * Hertz
)

// NumberDensity is a count by area, per square metre.
type NumberDensity float64

// Units of number density.
const (
	PerSquareMetre     NumberDensity = 1
	PerHectare                       = PerSquareMetre / 10000
	PerSquareKilometre               = PerSquareMetre / 1000000
)

// SolidAngle is a solid angle in steradians.
type SolidAngle float64

// Force in newtons.
type Force float64

// Units of force. A pound-force is the weight of a pound under standard gravity, exactly.
const (
	Newton     Force = 1
	PoundForce       = 0.45359237 * 9.80665 * Newton
)

// Newtons gives the force as a plain number of newtons.
func (f Force) Newtons() float64 { return float64(f) }
