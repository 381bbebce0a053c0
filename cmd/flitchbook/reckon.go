package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"

	"flitchbook/api/reckon"
)

type reckonCmd struct {
	Kind    string `arg:"" optional:"" help:"What to reckon; without it the kinds are listed."`
	File    string `arg:"" optional:"" default:"-" help:"JSON document, or - for standard input."`
	Example bool   `help:"Print a worked input."`
	Schema  bool   `help:"Print the JSON Schema of the input."`
}

// reckonMost bounds a document; a season of a shop is far smaller.
const reckonMost = 16 << 20

func (c *reckonCmd) Run(p *program) error {
	if c.Kind == "" {
		for _, k := range reckon.Kinds() {
			fmt.Fprintf(p.out, "%-14s %s\n", k, reckon.About(k))
		}
		return nil
	}
	b, err := c.answer(p)
	if err != nil {
		var problem *reckon.Problem
		if !errors.As(err, &problem) {
			return err
		}
		e := json.NewEncoder(p.err)
		e.SetEscapeHTML(false)
		e.SetIndent("", "  ")
		if err := e.Encode(problem); err != nil {
			return err
		}
		return exitCode(2)
	}
	_, err = p.out.Write(b)
	return err
}

func (c *reckonCmd) answer(p *program) ([]byte, error) {
	switch {
	case c.Example && c.Schema:
		return nil, badSetting("ask for --example or --schema, not both")
	case c.Example:
		return reckon.Example(c.Kind)
	case c.Schema:
		return reckon.Schema(c.Kind)
	}
	in := p.in
	if c.File != "-" {
		f, err := os.Open(c.File)
		if err != nil {
			return nil, badSetting("%v", err)
		}
		defer f.Close()
		in = f
	}
	b, err := io.ReadAll(io.LimitReader(in, reckonMost+1))
	if err != nil {
		return nil, err
	}
	if len(b) > reckonMost {
		return nil, badSetting("the document is larger than %d MiB", reckonMost>>20)
	}
	return reckon.Run(c.Kind, b)
}
