package quantity

// FluxDensity is the strength of a magnetic field in teslas.
type FluxDensity float64

// Units of flux density.
const (
	Tesla     FluxDensity = 1
	Nanotesla             = Tesla * 1e-9
)

// Nanoteslas gives the strength as a plain number of nanoteslas.
func (b FluxDensity) Nanoteslas() float64 { return float64(b / Nanotesla) }
