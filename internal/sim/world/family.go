package world

// Family is a kind of lake, by how its fish behave. docs/models/rehearsal.md tables the numbers; all are invented.
// Where three numbers stand they are for early, mid and late ice.
type Family struct {
	Name  string // one word, for tables
	Title string // what its fish do

	habits habits

	shallowM, deepM, reliefM float64    // depth at the landing's side and across, and of the swells
	depthM                   [3]float64 // where fish mostly stand
	contrast                 float64    // standard deviation of the logarithm of what places are worth

	schools  [3]float64 // on the working area
	fish     [3]float64 // median of a school
	fishSD   float64    // of its logarithm
	radiusM  [3]float64 // of a median school; grows with the cube root of its fish
	long     float64    // long over wide semi-axis
	goodPart float64    // share of schools of good size
	good     [2]float64 // share of good fish in a school of small and of good size

	clear    [3]float64 // share of fish that stand clear of the bottom: resting, travelling, feeding
	bites    [3]float64 // bites a minute and rod in the thick of an unfished school: resting, travelling, feeding
	wary     float64    // fish taken that bring the bites of a median school down by a factor e
	windowed bool       // fish feed in short windows that a whole part of the lake shares
}

// Families gives the four kinds, always in the same order.
func Families() []Family {
	return []Family{
		{
			Name: "pods", Title: "many small pods, each near a patch of its own", habits: pods{},
			shallowM: 9, deepM: 12, reliefM: 1.2, depthM: [3]float64{9.5, 11, 10}, contrast: 1.0,
			schools: [3]float64{980, 800, 580}, fish: [3]float64{45, 70, 110}, fishSD: 0.6, radiusM: [3]float64{7, 8, 9.5}, long: 1,
			goodPart: 0.3, good: [2]float64{0.04, 0.85},
			clear: [3]float64{0.5, 0.8, 1}, bites: [3]float64{0.02, 0.03, 0.9}, wary: 18,
		},
		{
			Name: "contour", Title: "schools that follow a depth along the bottom's contours", habits: contour{},
			shallowM: 6, deepM: 14, reliefM: 1.8, depthM: [3]float64{8.5, 11.5, 9.5}, contrast: 0.9,
			schools: [3]float64{320, 280, 220}, fish: [3]float64{80, 120, 200}, fishSD: 0.7, radiusM: [3]float64{7, 8, 10}, long: 1.8,
			goodPart: 0.35, good: [2]float64{0.08, 0.7},
			clear: [3]float64{0.4, 0.8, 0.9}, bites: [3]float64{0.02, 0.05, 0.9}, wary: 22,
		},
		{
			Name: "roamers", Title: "few big schools that swim from bed to bed", habits: roamers{},
			shallowM: 10, deepM: 12.5, reliefM: 0.7, depthM: [3]float64{11, 11.5, 11}, contrast: 0.8,
			schools: [3]float64{220, 190, 155}, fish: [3]float64{350, 550, 900}, fishSD: 0.8, radiusM: [3]float64{16, 18, 21}, long: 1.6,
			goodPart: 0.4, good: [2]float64{0.1, 0.6},
			clear: [3]float64{0.5, 0.7, 0.9}, bites: [3]float64{0.02, 0.08, 1.1}, wary: 60,
		},
		{
			Name: "bottom", Title: "fish that rest on the bottom and feed in short windows", habits: bottom{},
			shallowM: 9.5, deepM: 12, reliefM: 0.6, depthM: [3]float64{10.5, 11.5, 10.5}, contrast: 0.8,
			schools: [3]float64{640, 540, 420}, fish: [3]float64{50, 80, 130}, fishSD: 0.6, radiusM: [3]float64{9, 10, 11.5}, long: 1.2,
			goodPart: 0.3, good: [2]float64{0.06, 0.75},
			clear: [3]float64{0.1, 0.6, 1}, bites: [3]float64{0.05, 0.08, 1.7}, wary: 25, windowed: true,
		},
	}
}

// flatContrast is the standard deviation of the logarithm of worth on flat ground; the families have 0.8 to 1.
const flatContrast = 0.4

// Flat gives the family on ground whose places are worth nearly the same, so that there is little of it to learn. Where
// places lie and how fish live stays.
func (f Family) Flat() Family {
	f.contrast = flatContrast
	return f
}

// FamilyByName gives a family; ok is false when there is none of that name.
func FamilyByName(name string) (f Family, ok bool) {
	for _, f := range Families() {
		if f.Name == name {
			return f, true
		}
	}
	return Family{}, false
}

// Spacing of holes, ice and what a guide expects, by the time of the winter.
var (
	iceM  = [3]float64{0.25, 0.5, 0.75}
	bandM = 2.5 // half width of the band of depth that guides search
)

// habits is how the schools of a family live. A school is drawn once a day and then taken through it minute by minute.
type habits interface {
	settle(l *Lake, d *dice)            // puts the places on a new lake
	draw(d *Day, s *school)             // puts a school under the ice at the start of the day
	step(d *Day, s *school, minute int) // takes it through one minute
}
