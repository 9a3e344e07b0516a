# Read by deploy/run and deploy/test from the top of the project.
# PYTHON names another interpreter than python3; it must be 3.11 or newer.

unset PYTHONPATH PYTHONHOME || true

# install_once MARK [GROUP]: a virtual environment with the product, and with a dependency group if one is named.
# Done again when pyproject.toml is newer than MARK.
install_once() {
    if [ -e "$1" ] && [ -z "$(find pyproject.toml -newer "$1")" ]; then
        return 0
    fi
    python=${PYTHON:-python3}
    if ! "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))'; then
        echo "Python 3.11 or newer is needed; name it with PYTHON=/path/to/python3." >&2
        exit 1
    fi
    if [ ! -x .venv/bin/python ] && ! "$python" -m venv .venv; then
        echo "A virtual environment cannot be made; on Debian and Ubuntu: apt-get install python3-venv" >&2
        exit 1
    fi
    # Dependency groups came with pip 25.1.
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --upgrade "pip>=25.1"
    if [ $# -gt 1 ]; then
        .venv/bin/python -m pip install --quiet --editable ".[postgres]" --group "$2"
    else
        .venv/bin/python -m pip install --quiet --editable .
    fi
    touch "$1"
}
