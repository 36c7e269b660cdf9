package journal

import (
	"fmt"

	"github.com/google/uuid"
)

// What the law asks to be kept: rule books with their signatures, and what people hold besides what they caught.

// RuleBook is a version of the local rules as somebody of the outfit entered it; package rules reads its lines.
type RuleBook struct {
	Text    string `json:"text"`    // the lines as they were entered
	Entered Text   `json:"entered"` // who entered it
}

// RuleCheck says that somebody held a rule book against its source text, and signs it.
type RuleCheck struct {
	Book uuid.UUID `json:"book"`
	By   Text      `json:"by"`
}

// Possession moves fish into or out of what a person holds, besides keeping and putting back.
type Possession struct {
	Person  uuid.UUID `json:"person"`
	What    string    `json:"what"` // carried, gift_in, gift_out, eaten, processed
	Species string    `json:"species"`
	Count   int64     `json:"count"`
	Other   uuid.UUID `json:"other,omitzero"`  // of a gift: who gave it or got it, when of the party
	Packs   int64     `json:"packs,omitempty"` // of fish processed: into how many packs
	Note    *Text     `json:"note,omitempty"`  // of a gift: the dated, signed note
}

// Portion hands out what is left of limits among the phones of the outfit, before contact is lost.
type Portion struct {
	Parts []Part `json:"parts"`
}

// Part is what one phone may record of one person's limit from the portion on.
type Part struct {
	Journal uuid.UUID `json:"journal"`
	Person  uuid.UUID `json:"person"`
	Species string    `json:"species"`
	Count   int64     `json:"count"`
}

func (*RuleBook) Kind() Kind   { return KindRuleBook }
func (*RuleCheck) Kind() Kind  { return KindRuleCheck }
func (*Possession) Kind() Kind { return KindPossession }
func (*Portion) Kind() Kind    { return KindPortion }

// kept refuses a fish that is kept and has the fate of one that is not.
func (b *Fish) kept() error {
	if b.Kept && b.Fate != "" {
		return fmt.Errorf("journal: fish that is kept and has the fate %q of one put back", b.Fate)
	}
	return nil
}

// maxRules bounds the lines of a rule book, in bytes.
const maxRules = 65_536

func (b *RuleBook) Check() error {
	if b.Text == "" || len(b.Text) > maxRules {
		return fmt.Errorf("journal: rule book of %d bytes, from 1 to %d", len(b.Text), maxRules)
	}
	if b.Entered.Blob.IsZero() {
		return fmt.Errorf("journal: rule book: nobody is named who entered it")
	}
	return nil
}

func (b *RuleCheck) Check() error {
	if b.By.Blob.IsZero() {
		return fmt.Errorf("journal: rule book: nobody is named who checked it")
	}
	return named("rule book", b.Book)
}

func (b *Possession) Check() error {
	least := int64(1)
	if b.What == "carried" { // nothing carried over is a statement too
		least = 0
	}
	if b.Species == "" {
		return fmt.Errorf("journal: fish without a species")
	}
	return first(named("person", b.Person), oneOf("what became of fish", b.What, "carried", "gift_in", "gift_out", "eaten", "processed"),
		between("fish", &b.Count, least, maxHoleCount, ""), between("packs", &b.Packs, 0, 2*maxHoleCount, ""))
}

func (b *Portion) Check() error {
	if len(b.Parts) == 0 {
		return fmt.Errorf("journal: portion hands out nothing")
	}
	for _, p := range b.Parts {
		if p.Species == "" {
			return fmt.Errorf("journal: portion: a part without a species")
		}
		if err := first(named("phone", p.Journal), named("person", p.Person), between("part", &p.Count, 0, 10_000, "fish")); err != nil {
			return err
		}
	}
	return nil
}
