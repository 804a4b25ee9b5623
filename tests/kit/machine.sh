# Shared by tests that need an init of their own, on top of tests/service/lib.sh: a small machine that is booted from this one's
# /usr in namespaces of its own (machine_boot.sh). Nothing of it is seen outside, and nothing is left of it.
machine=$work/machine
init= # its process 1, as it is numbered here

# machine_lacks: why none can be had here; says nothing when it can.
machine_lacks() {
    if [ "$(id -u)" != 0 ]; then
        echo "only root may boot a machine"
    elif ! grep -q '^0::' /proc/self/cgroup; then
        echo "this kernel has no cgroup2"
    elif ! command -v unshare >/dev/null || ! command -v nsenter >/dev/null || ! command -v setpriv >/dev/null ||
        ! command -v ip >/dev/null; then
        echo "unshare, nsenter, setpriv or ip is not here"
    elif ! unshare --mount --propagation private sh -c '
        mkdir "$1" && mount -t cgroup2 cgroup2 "$1" && cd "$1$(sed -n "s/^0:://p" /proc/self/cgroup)" && mkdir probe.$$ && rmdir probe.$$' \
        probe "$work/cgroup" 2>"$work/lacks" ||
        ! unshare --mount --pid --fork --cgroup --uts --ipc --net true 2>"$work/lacks"; then
        echo "this machine lets us have no namespaces or cgroups of our own: $(head -n 1 "$work/lacks")"
    fi
}

# Its root folder with an /etc of its own, and what `make install-$1` puts into /usr/local and /etc.
machine_make() { # systemd | openrc
    for folder in etc usr local var/log var/lib var/tmp var/cache root home srv opt mnt old proc sys/fs/cgroup run dev tmp; do
        mkdir -p "$machine/$folder"
    done
    chmod 1777 "$machine/tmp" "$machine/var/tmp"
    chmod 755 "$work" "$machine" # whom the service runs as may pass
    ln -s /run "$machine/var/run"
    for folder in bin sbin lib lib32 lib64 libx32; do
        if [ -L "/$folder" ]; then
            cp -P "/$folder" "$machine/$folder"
        elif [ -d "/$folder" ]; then
            mkdir "$machine/$folder"
        fi
    done
    for part in ld.so.cache ld.so.conf ld.so.conf.d ssl alternatives; do
        [ ! -e "/etc/$part" ] || cp -a "/etc/$part" "$machine/etc/"
    done
    printf 'root:x:0:0:root:/root:/bin/sh\nnobody:x:65534:65534:nobody:/:/usr/sbin/nologin\n' >"$machine/etc/passwd"
    printf 'root:x:0:\ntty:x:5:\nadm:x:4:\nnogroup:x:65534:\n' >"$machine/etc/group"
    printf 'passwd: files systemd\ngroup: files systemd\nhosts: files\n' >"$machine/etc/nsswitch.conf"
    printf '127.0.0.1 localhost\n' >"$machine/etc/hosts"
    tr -d - </proc/sys/kernel/random/uuid >"$machine/etc/machine-id"
    MAKEFLAGS='' MAKELEVEL='' ${MAKE:-make} -s --no-print-directory B="$B" "install-$1" DESTDIR="$work/stage" prefix=/usr/local \
        >"$work/install" 2>&1 || cat "$work/install"
    mv "$work/stage/usr/local"/* "$machine/local/"
    [ ! -d "$work/stage/etc" ] || cp -a "$work/stage/etc/." "$machine/etc/"
    # Units of systemd's own that have nothing to do here.
    mkdir -p "$machine/etc/systemd/system"
    for unit in dbus.service dbus.socket systemd-logind.service modprobe@.service dev-hugepages.mount sys-kernel-debug.mount \
        sys-kernel-tracing.mount sys-kernel-config.mount sys-fs-fuse-connections.mount systemd-update-utmp.service \
        systemd-update-utmp-runlevel.service systemd-journald-audit.socket; do
        ln -s /dev/null "$machine/etc/systemd/system/$unit"
    done
    # For systemd: this /etc is no older than /usr.
    touch "$machine/etc/.updated" "$machine/var/.updated"
}

machine_boot() { # LAYER INIT WORDS...
    begin "$work/boot.log" sh tests/kit/machine_boot.sh "$machine" "$@"
    plug=$pid
    await 20 test -s "$machine.init" || cat "$work/boot.log"
    init=$(cat "$machine.init")
    await 20 machine_runs "${2##*/}" || cat "$work/boot.log"
}
machine_runs() { # NAME: what process 1 has become
    [ "$(readlink "/proc/$init/exe" | sed 's|.*/||')" = "$1" ]
}

# inside WORDS...: runs them in the machine, as its root; standard input, output and error are ours.
inside() {
    nsenter --target "$init" --all --wd=/ env -i PATH=/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin LANG=C.UTF-8 "$@"
}

# machine_off: waits until it has ended by itself, or pulls the plug.
machine_off() { # SECONDS
    await "$1" ended "$plug"
    off=$?
    kill "$plug" 2>/dev/null
    wait "$plug"
    return $off
}
