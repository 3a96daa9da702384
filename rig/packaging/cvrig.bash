# Completion of cvrig's words for bash. Subcommands and options are held against `cvrig --help` by a test.

_cvrig_subcommands="run calibrate explain rejudge pack open play devices selftest trim wiring patch fleet history show
  compare baseline trend export serve submit status"

_cvrig_checks=(tracking slide retrigger accent envelope level stereo waveform noise clicks latency gate range "slide range"
  "knob and jack" unplugged extremes pattern console image)

# The options of a subcommand; without one, cvrig's own.
_cvrig_options() {
  case $1 in
    run)
      echo "--help --bench --image --unit --build-name --commit --with --report --runs --constants --history --unattended --quiet
        --check --set --baseline --keep-takes --bisect"
      ;;
    calibrate)
      echo "--help --bench --image --unit --build-name --commit --with --report --runs --constants --unattended --quiet
        --best"
      ;;
    explain | devices | selftest) echo "--help --bench" ;;
    rejudge) echo "--help --expectations --report --bisect" ;;
    pack) echo "--help --output --with-image" ;;
    open) echo "--help --report --against --expectations" ;;
    play) echo "--help --bench --quiet" ;;
    trim) echo "--help --bench --meter" ;;
    wiring) echo "--help --bench --html --with" ;;
    patch) echo "--help --bench --with" ;;
    fleet) echo "--help --build --limit --set --report --json" ;;
    history) echo "--help --history --json --module --unit --bench --build --verdict --most --file" ;;
    show | compare | "baseline list") echo "--help --history --json" ;;
    baseline) echo "--help" ;;
    "baseline approve") echo "--help --note --history --json" ;;
    trend) echo "--help --history --json --module --unit --bench --most" ;;
    export) echo "--help --history --module --unit --bench --build --verdict --format --output --most" ;;
    serve) echo "--help --bench --watch --unit --with --history --reports --port --newest-first --unattended" ;;
    submit) echo "--help --build-name --commit --unit --bench --wait" ;;
    status) echo "--help --bench --json" ;;
    "") echo "--help --version" ;;
  esac
}

# Files of these patterns, and the folders on the way to them: _cvrig_files WORD [PATTERN ...]
_cvrig_files() {
  local word=$1 name pattern
  shift
  while IFS= read -r name; do COMPREPLY+=("$name"); done < <(
    compgen -d -- "$word" || true
    for pattern in "$@"; do compgen -f -X "!$pattern" -- "$word" || true; done
  )
  # Not in every shell, and in none outside a completion.
  compopt -o filenames 2>/dev/null || true
}

# A word of a list: _cvrig_words WORD LIST
_cvrig_words() {
  local name
  while IFS= read -r name; do COMPREPLY+=("$name"); done < <(compgen -W "$2" -- "$1" || true)
}

# Some checks' names have blanks in them.
_cvrig_check() {
  local name
  for name in "${_cvrig_checks[@]}"; do
    printf -v name %q "$name"
    case $name in "$1"*) COMPREPLY+=("$name") ;; esac
  done
}

_cvrig_folders() { _cvrig_files "$1"; }
_cvrig_image() { _cvrig_files "$1" "*.hex" "*.uf2" "*.dfu" "*.elf" "*.bin"; }
_cvrig_yaml() { _cvrig_files "$1" "*.yaml" "*.yml"; }

# What may follow an option; fails for one that stands alone.
_cvrig_value() {
  local option=$1 word=$2 subcommand=$3
  case "$subcommand $option" in
    # There it is a bench's name, not its file.
    "history --bench" | "trend --bench" | "export --bench") ;;
    "export -f" | "export --format") _cvrig_words "$word" "csv json" ;;
    "export -o" | "export --output") _cvrig_files "$word" "*.csv" "*.json" ;;
    *" -b" | *" --bench" | *" -e" | *" --expectations") _cvrig_yaml "$word" ;;
    *" -r" | *" --report" | *" --reports" | *" --runs" | *" --file") _cvrig_folders "$word" ;;
    *" -i" | *" --image" | *" --watch") _cvrig_image "$word" ;;
    *" -o" | *" --output" | *" --against") _cvrig_files "$word" "*.cvrig-evidence" ;;
    *" --html") _cvrig_files "$word" "*.html" ;;
    *" --history") _cvrig_files "$word" "*.sqlite"; _cvrig_words "$word" "none postgresql://" ;;
    *" --baseline") _cvrig_folders "$word"; _cvrig_words "$word" latest ;;
    *" --constants") _cvrig_words "$word" "default own" ;;
    *" --verdict") _cvrig_words "$word" "pass fail unsure skipped" ;;
    *" --check") _cvrig_check "$word" ;;
    *" -u" | *" --unit" | *" --build-name" | *" --commit" | *" --with" | *" --set" | *" -m" | *" --meter" | *" --limit" | \
      *" --build" | *" --module" | *" -n" | *" --most" | *" --note" | *" --port") ;;
    *) return 1 ;;
  esac
}

# What stands without an option before it.
_cvrig_argument() {
  local subcommand=$1 word=$2
  case $subcommand in
    run | calibrate | wiring | patch | serve) _cvrig_yaml "$word" ;;
    submit) _cvrig_image "$word" ;;
    baseline) _cvrig_words "$word" "approve list" ;;
    show | compare | "baseline approve") _cvrig_words "$word" latest ;;
    explain) _cvrig_yaml "$word"; _cvrig_check "$word" ;;
    rejudge | pack | fleet) _cvrig_folders "$word" ;;
    open) _cvrig_files "$word" "*.cvrig-evidence" ;;
    play) _cvrig_files "$word" "*.wav" ;;
  esac
}

_cvrig() {
  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]} subcommand="" i
  COMPREPLY=()
  for ((i = 1; i < COMP_CWORD; i++)); do
    case ${COMP_WORDS[i]} in
      -*) ;;
      *) subcommand=${COMP_WORDS[i]} && break ;;
    esac
  done
  if [ "$subcommand" = baseline ] && ((i + 1 < COMP_CWORD)); then subcommand+=" ${COMP_WORDS[i + 1]}"; fi
  # Bash cuts `--bench=desk.yaml` at the sign.
  if [ "$word" = "=" ]; then
    word=
  elif [ "$before" = "=" ]; then
    before=${COMP_WORDS[COMP_CWORD - 2]}
  fi
  if [ -z "$subcommand" ]; then
    case $word in
      -*) _cvrig_words "$word" "$(_cvrig_options "")" ;;
      *) _cvrig_words "$word" "$_cvrig_subcommands" ;;
    esac
  elif ! _cvrig_value "$before" "$word" "$subcommand"; then
    case $word in
      -*) _cvrig_words "$word" "$(_cvrig_options "$subcommand")" ;;
      *) _cvrig_argument "$subcommand" "$word" ;;
    esac
  fi
}

complete -F _cvrig cvrig
