// Package inspection says which meat may be sold or served in a shop that teaches, and
// how long its papers are kept.
//
// # Method
//
// Meat is judged by how it was killed and, of deer, how it was raised. Of cattle the age
// decides whether a loin may be cut on the bone. A refusal carries its reason, so that
// whoever reads it can act. None of it is legal advice: local code and the inspector
// decide, and a shop's written plan may be stricter.
//
// Papers of a purchase are kept two years beyond the last day of its calendar year, a
// grinding record for one year. Ground meat is one lot until its sources change or the
// grinder is cleaned; only cleaning ends what is carried over (Grind).
//
// # Sources
//
//   - Custom-exempt meat is for the owner, the household and guests who do not pay; it may
//     not be sold or given away: University of Florida IFAS AN204; Oregon State University
//     EM 9345.
//   - Game must be raised commercially and inspected; hunted animals may be neither sold
//     nor served: Food Code 3-201.17, as adopted in Wisconsin ATCP 75.
//   - The vertebral column of cattle of 30 months and older is specified risk material:
//     9 CFR 310.22 (from memory: check the text in force).
//   - Records: 9 CFR 320.3(a) and (c); grinding lots 9 CFR 320.1(b)(4)(iii).
package inspection

import "fmt"

// Kill is how an animal was killed.
type Kill string

// The kinds of kill.
const (
	Inspected    Kill = "inspected"     // under federal or equal state inspection, or a voluntary one for farmed game
	CustomExempt Kill = "custom exempt" // for its owner's household, marked NOT FOR SALE
	Hunted       Kill = "hunted"        // shot in the wild
	Uninspected  Kill = "uninspected"   // anything without a mark
)

// Kills lists them in the order they are asked.
var Kills = []Kill{Inspected, CustomExempt, Hunted, Uninspected}

// Ages lists the answers that can be given.
var Ages = []Cattle{Under30, From30, SpineOut}

// Refusal is why meat may be neither sold nor served.
type Refusal struct {
	Rule   string // the rule it rests on
	Reason string // in words for whoever wanted to use it
}

func (r *Refusal) Error() string { return r.Reason }

// Serve says whether meat of a kill may be offered in a class, at a dinner or over the
// counter: nil, or a *Refusal.
func Serve(species string, k Kill) error {
	switch k {
	case Inspected:
		return nil
	case CustomExempt:
		return &Refusal{"custom exemption", "Custom-exempt meat is marked NOT FOR SALE: it is for its owner, the household and guests who do not pay. It may not be sold, served or given away here."}
	case Hunted:
		return &Refusal{"Food Code 3-201.17", fmt.Sprintf("Hunted %s may be neither sold nor served. Only farmed animals killed under inspection may come in.", species)}
	case Uninspected:
		return &Refusal{"no inspection", "Meat without an inspection mark may not come in: it may be neither sold nor served."}
	}
	return &Refusal{"no inspection", fmt.Sprintf("Nobody knows how this animal was killed (%q): it may not come in.", string(k))}
}

// Cattle is the age of one head of cattle at the kill.
type Cattle string

// The answers to the question of age.
const (
	NotAsked Cattle = ""
	Under30  Cattle = "under 30 months"
	From30   Cattle = "30 months or older"
	SpineOut Cattle = "30 months or older without its backbone" // by the plant, under inspection
)

// BoneInLoin says whether a loin of cattle of this age may be cut on the bone: nil, or a
// *Refusal.
func BoneInLoin(age Cattle) error {
	switch age {
	case Under30:
		return nil
	case SpineOut:
		return &Refusal{"9 CFR 310.22", "The plant has taken the backbone out: there is no loin on the bone to cut. Use it for a class that cuts boneless."}
	case From30:
		return &Refusal{"9 CFR 310.22", "The backbone of cattle of 30 months and older is specified risk material and has to be taken out at the plant: no loin on the bone may be cut from it."}
	}
	return &Refusal{"9 CFR 310.22", "Nobody has said how old this animal was: ask the plant whether it was 30 months or older before a loin is cut on the bone."}
}
