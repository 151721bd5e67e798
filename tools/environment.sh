# Sourced by ./run and ./check: makes sure that .venv holds what locks/$1.txt says (run or check).
# The second time it only compares a checksum. Expects $root; sets $python.

fail() { echo "groovewright: $*" >&2; exit 2; }

checksum() { cat "$root/pyproject.toml" "$root/locks/$1.txt" "$root/locks/tool.txt" | cksum; }

find_python() {
    for candidate in "${PYTHON:-python3}" python3.14 python3.13 python3.12 python3.11; do
        if "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            system_python=$candidate
            return
        fi
    done
    fail "needs Python 3.11 or newer; none found. Install one (on Debian: apt install python3 python3-venv) or set PYTHON."
}

make_tools() {
    tool_stamp=$(cksum <"$root/locks/tool.txt")
    [ "$(cat "$root/.tools/stamp" 2>/dev/null)" = "$tool_stamp" ] && return
    find_python
    "$system_python" -c 'import ensurepip, venv' 2>/dev/null ||
        fail "Python has no venv module. On Debian: apt install python3-venv"
    rm -rf "$root/.tools"
    "$system_python" -m venv "$root/.tools" || fail "could not make $root/.tools: is the folder writable?"
    "$root/.tools/bin/python" -m pip install -q --disable-pip-version-check --require-hashes \
        -r "$root/locks/tool.txt" >&2 || fail "could not install the installer (uv): is there a network?"
    echo "$tool_stamp" >"$root/.tools/stamp"
}

environment() {
    wanted=$1
    python=$root/.venv/bin/python
    # what the checks install is more than what the program needs: never take it away again
    [ -e "$root/.venv/stamp-check" ] && wanted=check
    stamp=$(checksum "$wanted")
    [ "$(cat "$root/.venv/stamp-$wanted" 2>/dev/null)" = "$stamp" ] && [ -x "$python" ] && return
    echo "groovewright: preparing its environment in $root/.venv (once; under a minute)" >&2
    make_tools
    find_python
    [ -x "$python" ] || "$root/.tools/bin/uv" venv -q --clear -p "$system_python" "$root/.venv" >&2 ||
        fail "could not make $root/.venv: is the folder writable?"
    rm -f "$root/.venv/stamp-run" "$root/.venv/stamp-check"
    "$root/.tools/bin/uv" pip sync -q -p "$python" --require-hashes "$root/locks/$wanted.txt" >&2 ||
        fail "could not install the packages of locks/$wanted.txt: is there a network?"
    "$root/.tools/bin/uv" pip install -q -p "$python" --no-deps -e "$root" >&2 || fail "could not install groovewright itself"
    echo "$stamp" >"$root/.venv/stamp-$wanted"
}
