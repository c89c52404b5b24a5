module colonnade

go 1.26.0

require (
	github.com/bep/imagemeta v1.0.1
	github.com/disintegration/imaging v1.6.2
	github.com/go-audio/audio v1.0.0
	github.com/go-audio/riff v1.0.0
	github.com/go-audio/wav v1.1.0
	github.com/gofrs/flock v0.13.2
	github.com/hajimehoshi/go-mp3 v0.3.4
	github.com/mewkiz/flac v1.0.14
	github.com/mjibson/go-dsp v0.0.0-20180508042940-11479a337f12
	github.com/pelletier/go-toml/v2 v2.4.3
	github.com/pion/opus v0.1.0
	github.com/rogpeppe/go-internal v1.16.0
	github.com/spf13/pflag v1.1.0
	golang.org/x/image v0.47.0
	golang.org/x/sync v0.25.0
	golang.org/x/sys v0.50.0
	golang.org/x/term v0.48.0
	gonum.org/v1/gonum v0.17.0
)

require (
	github.com/icza/bitio v1.1.0 // indirect
	github.com/mewkiz/pkg v0.0.0-20250417130911-3f050ff8c56d // indirect
	github.com/mewpkg/term v0.0.0-20241026122259-37a80af23985 // indirect
	golang.org/x/text v0.43.0 // indirect
	golang.org/x/tools v0.51.0 // indirect
)
