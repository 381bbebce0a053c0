package unit

import "strings"

// A Fault is one thing wrong with an input: the field as the input names it, such
// as "classes[2].seats.sold", and what is wrong in words fit for whoever typed it.
type Fault struct {
	Field string
	Text  string
}

// Faults is every fault found in one input; as an error it lists them all. A check
// that finds nothing returns nil Faults: use Err to hand them on as an error.
type Faults []Fault

// Add notes a fault.
func (f *Faults) Add(field, text string) { *f = append(*f, Fault{field, text}) }

// Under adds the faults of a part, its field names prefixed with "under." or, when
// the part starts with an index, with under alone.
func (f *Faults) Under(under string, part Faults) {
	for _, p := range part {
		switch {
		case p.Field == "":
			p.Field = under
		case strings.HasPrefix(p.Field, "["):
			p.Field = under + p.Field
		default:
			p.Field = under + "." + p.Field
		}
		*f = append(*f, p)
	}
}

// Err returns the faults as an error, or nil when there are none.
func (f Faults) Err() error {
	if len(f) == 0 {
		return nil
	}
	return f
}

func (f Faults) Error() string {
	parts := make([]string, len(f))
	for i, p := range f {
		parts[i] = p.Field + ": " + p.Text
	}
	return strings.Join(parts, "; ")
}
