package check

import "testing"

// The generator's authors print that number 10,000 from the seed 1 is 1043618065 [ParkMiller1988].
func TestMinimalStandardGenerator(t *testing.T) {
	m := minimal(1)
	for range 10000 {
		m.next()
	}
	if m != 1043618065 {
		t.Errorf("number 10,000 is %d", m)
	}
}
