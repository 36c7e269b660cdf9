package report

// formView is the page Reports: what is chosen, what it tells a stranger, what was given.
type formView struct {
	Day, DayText string
	Words, Next  string
	Left         int
	Depth        bool
	Outfit       string
	Private      string
	Pictures     []pictureView
	Fault, Hint  string // why no report can be made of this
	Preview      string // address of the report as guests see it; "" when none can be made
	File         string // its file name
	Says         []string
	Tells        []tellView
	Absent       string
	Outside      []string
	Given        []givenView
	Link         string // address of the link just made, shown while this run of the server lasts
}

type pictureView struct {
	ID, Src, Alt string
	Chosen       bool
	Caption      string
}

type tellView struct {
	What, Stranger string
	Look           bool
}

type givenView struct {
	ID, Text, Open string
	Live           bool
}
