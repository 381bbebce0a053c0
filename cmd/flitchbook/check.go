package main

import (
	"fmt"

	"flitchbook/api/store"
)

type checkCmd struct {
	shopConfig
	All bool `help:"Print every broken record; else at most ten for each rule."`
}

const checkShow = 10

func (c *checkCmd) Run(p *program) error {
	return c.withStore(p, func(st *store.Store) error {
		found, err := st.Check(p.ctx)
		if err != nil {
			return err
		}
		broken := 0
		for _, f := range found {
			if len(f.Broken) == 0 {
				fmt.Fprintf(p.out, "holds   %s\n", f.Rule)
				continue
			}
			broken++
			fmt.Fprintf(p.out, "BROKEN  %s (%d)\n", f.Rule, len(f.Broken))
			for i, line := range f.Broken {
				if i == checkShow && !c.All {
					fmt.Fprintf(p.out, "        … and %d more (--all)\n", len(f.Broken)-i)
					break
				}
				fmt.Fprintf(p.out, "        %s\n", line)
			}
		}
		if broken > 0 {
			return fmt.Errorf("%d of %d rules are broken", broken, len(found))
		}
		return nil
	})
}
