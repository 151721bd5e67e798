# Sourced by ./check: makes sure of the programs from the operating system that some tests compare with.
# Quick where they are there. Where they can't be had, one line says what to install and those tests are
# skipped with the reason. Each entry is PROGRAM:DEBIAN_PACKAGE.

system_packages_wanted="ngspice:ngspice pg_ctlcluster:postgresql chromium:chromium"

system_packages() {
    missing=
    for entry in $system_packages_wanted; do
        command -v "${entry%%:*}" >/dev/null 2>&1 || missing="$missing ${entry##*:}"
    done
    [ -n "$missing" ] || return 0
    if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
        echo "groovewright: installing for the tests:$missing" >&2
        # shellcheck disable=SC2086 # several package names
        if install_debian $missing >/dev/null 2>&1 ||
            { apt-get -q update >/dev/null 2>&1 && install_debian $missing >/dev/null 2>&1; }; then
            return 0
        fi
    fi
    echo "groovewright: some tests will be skipped; to run them too: sudo apt install$missing" >&2
}

install_debian() {
    DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends "$@"
}
