module meltload

go 1.26.8

require (
	github.com/go-echarts/go-echarts/v2 v2.6.7
	github.com/pelletier/go-toml/v2 v2.4.3
	github.com/spf13/cobra v1.10.2
	github.com/spf13/pflag v1.1.0
	gonum.org/v1/gonum v0.17.0
	pgregory.net/rapid v1.3.0
)

require github.com/inconshreveable/mousetrap v1.1.0 // indirect
