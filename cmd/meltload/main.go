// Command meltload predicts the load of a filament hot end, lays it over what
// a feeder can push, and finds the highest usable flow and what limits it.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"meltload/cmd/meltload/internal/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(cli.Run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
