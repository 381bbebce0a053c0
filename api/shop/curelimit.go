package shop

import (
	"fmt"

	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// CureLimit is a legal limit on nitrite as the shop took it over: the figures as they
// stood then, where they come from, how they were read, and who in the shop approved
// them with whom. The shop works under one of them, the chosen one.
type CureLimit struct {
	ID           int64
	Code         string // as planner/cure names it
	Place        string
	Product      string
	Method       cure.Method
	Basis        cure.Basis
	Counted      cure.Compound
	Most         cure.PPM
	Least        cure.PPM
	Aim          cure.PPM // where the rule names one figure
	Nitrate      cure.PPM
	SkinShare    unit.Ratio
	SkinSource   string
	SkinRead     cure.ReadHow
	Also         string
	Source       string
	ReadHow      cure.ReadHow
	Chosen       bool
	ChosenBy     string
	ChosenOn     unit.Day
	ApprovedBy   string
	ApprovedWith string
	ApprovedWhy  string
	ApprovedOn   unit.Day
}

// TableName of the record.
func (CureLimit) TableName() string { return "cure_limits" }

// LimitFrom takes a limit over from the program's list, with nobody's approval.
func LimitFrom(l cure.Limit) CureLimit {
	return CureLimit{Code: l.ID, Place: l.Place, Product: l.Product, Method: l.Method, Basis: l.Basis, Counted: l.Counted,
		Most: l.Max, Least: l.Floor, Aim: l.Target, Nitrate: l.Nitrate, SkinShare: l.SkinRule.Least, SkinSource: l.SkinRule.Source,
		SkinRead: l.SkinRule.ReadHow, Also: l.Also, Source: l.Source, ReadHow: l.ReadHow}
}

// Limit is the planner's.
func (l CureLimit) Limit() cure.Limit {
	return cure.Limit{ID: l.Code, Place: l.Place, Product: l.Product, Method: l.Method, Basis: l.Basis, Counted: l.Counted,
		Max: l.Most, Floor: l.Least, Target: l.Aim, Nitrate: l.Nitrate,
		SkinRule: cure.SkinRule{Least: l.SkinShare, Source: l.SkinSource, ReadHow: l.SkinRead},
		Also:     l.Also, Source: l.Source, ReadHow: l.ReadHow, ApprovedBy: l.Approval()}
}

// SameFigures says whether two take-overs of a limit judge alike.
func (l CureLimit) SameFigures(o CureLimit) bool {
	return l.Method == o.Method && l.Basis == o.Basis && l.Counted == o.Counted && l.Most == o.Most && l.Least == o.Least && l.Aim == o.Aim && l.Nitrate == o.Nitrate && l.SkinShare == o.SkinShare
}

// Approval is "approved by Odile on …, with …: …", or "" before somebody has.
func (l CureLimit) Approval() string {
	if l.ApprovedOn == 0 {
		return ""
	}
	return fmt.Sprintf("approved by %s on %s, with %s: %s", l.ApprovedBy, l.ApprovedOn.Show(), l.ApprovedWith, l.ApprovedWhy)
}

// Caution is what stands beside the limit on screen and paper until the owner has
// approved it: how little its figures were checked. "" once that is done, or where the
// source itself was read.
func (l CureLimit) Caution() string {
	switch {
	case l.ApprovedOn != 0:
		return ""
	case l.ReadHow != cure.Read:
		return "NOT CHECKED: this limit is " + inWords(l.ReadHow) + "; the owner has not approved it yet"
	case l.SkinRead != cure.Read:
		return "NOT CHECKED: the skin's share is " + inWords(l.SkinRead) + "; the owner has not approved it yet"
	}
	return ""
}

func inWords(r cure.ReadHow) string {
	if r == cure.ReadTwice {
		return "known only as another page quotes it"
	}
	return string(r)
}

// Cannot says why kits cannot be made under a limit; "" where they can. Kits here are of
// dry cure, weighed in.
func (l CureLimit) Cannot() string {
	switch {
	case l.Basis == cure.ResidualBasis:
		return "It is on what is left in the finished product, which is measured in a laboratory: no ticket can prove it."
	case l.Method != cure.Dry:
		return fmt.Sprintf("It is for %s curing, and kits here are of dry cure.", l.Method)
	}
	return ""
}

// Words is the limit in a line: "120 to 200 ppm of sodium nitrite put in".
func (l CureLimit) Words() string {
	what := "put in"
	if l.Basis == cure.ResidualBasis {
		what = "left in the finished product"
	}
	if l.Aim > 0 {
		return fmt.Sprintf("%s of %s %s, %s to %s allowed", l.Aim, l.Counted, what, plain(l.Least), l.Most)
	}
	if l.Least > 0 {
		return fmt.Sprintf("%s to %s of %s %s", plain(l.Least), l.Most, l.Counted, what)
	}
	return fmt.Sprintf("at most %s of %s %s", l.Most, l.Counted, what)
}

// plain is a level without its unit, before another that has it.
func plain(p cure.PPM) string { s := p.String(); return s[:len(s)-len(" ppm")] }

// FurnishedLimit is a limit of the program's list that a shop's document chooses or
// says to be approved. What the owner has decided since is left alone.
type FurnishedLimit struct {
	Code         string
	Chosen       bool
	ApprovedBy   string
	ApprovedWith string
	ApprovedWhy  string
	ApprovedOn   unit.Day
}
