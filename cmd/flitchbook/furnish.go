package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"

	"flitchbook/api/shop"
	"flitchbook/api/store"
)

type furnishCmd struct {
	shopConfig
	File string `arg:"" help:"JSON document of what the shop teaches, for how much, with which farms, jars, recipes and rooms."`
}

func (c *furnishCmd) Run(p *program) error {
	b, err := os.ReadFile(c.File)
	if err != nil {
		return err
	}
	var f shop.Furnishing
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(&f); err != nil {
		return fmt.Errorf("%s: %w", c.File, err)
	}
	return c.withStore(p, func(st *store.Store) error {
		if err := st.Furnish(p.ctx, keeper, f); err != nil {
			return err
		}
		fmt.Fprintf(p.out, "The shop is furnished: %d kinds of class, %d farms, %d recipes, %d jars.\n", len(f.Kinds), len(f.Farms), len(f.Recipes), len(f.Jars))
		if len(f.Accounts) > 0 {
			fmt.Fprintln(p.out, "The people it names cannot sign in yet; add each with: flitchbook user add LOGIN --name NAME --role ROLE")
		}
		return nil
	})
}
