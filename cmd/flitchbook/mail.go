package main

// mailConfig is how notices leave.
type mailConfig struct {
}

func (c mailConfig) sender() (sender, error) { return nil, nil }
