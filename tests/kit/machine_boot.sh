#!/bin/sh
# machine_boot.sh ROOT LAYER INIT WORDS...: boots INIT as process 1 of a machine of its own, in namespaces of its own (mounts,
# processes, network, names, cgroups), so that this machine's init, services and ports are left alone. ROOT is its root folder;
# its /usr is ours, read only, with the folder LAYER laid over it ("-": none) and ROOT/local as /usr/local. ROOT.init names
# process 1 as it is numbered here. Ends when the machine ends; TERM pulls its plug. See machine.sh.
set -eu
root=$1 layer=$2

case ${MACHINE_STAGE:-} in
'')
    MACHINE_STAGE=group exec unshare --mount --propagation private sh "$0" "$@"
    ;;

group) # a cgroup of its own, below the one we are in
    mount -t cgroup2 cgroup2 "$root/sys/fs/cgroup"
    own=$root/sys/fs/cgroup$(sed -n 's/^0:://p' /proc/self/cgroup)/machine.$$
    mkdir "$own"
    MACHINE_STAGE=join MACHINE_GROUP=$own sh "$0" "$@" &
    child=$!
    trap 'kill -KILL $child 2>/dev/null || :' TERM INT HUP # unshare lets nothing else through; process 1 goes with it
    while kill -0 $child 2>/dev/null && [ ! -s "$root.init" ]; do
        grep -q . "/proc/$child/task/$child/children" 2>/dev/null && [ "$(cat /proc/$child/comm)" = unshare ] &&
            tr -d ' ' <"/proc/$child/task/$child/children" >"$root.init"
        sleep 0.02
    done
    end=0
    wait $child || end=$?
    trap '' TERM INT HUP
    tries=100
    until find "$own" -depth -type d -exec rmdir {} + 2>/dev/null || [ $tries = 0 ]; do
        tries=$((tries - 1))
        sleep 0.05
    done
    rm -f "$root.init"
    exit $end
    ;;

join)
    echo $$ >"$MACHINE_GROUP/cgroup.procs"
    MACHINE_STAGE=root exec unshare --mount --pid --fork --kill-child --cgroup --uts --ipc --net sh "$0" "$@"
    ;;

root)
    umount "$root/sys/fs/cgroup"
    mount --bind "$root" "$root"
    if [ "$layer" = - ]; then
        mount --bind /usr "$root/usr"
        mount -o remount,bind,ro "$root/usr"
    else
        mount -t overlay -o "ro,lowerdir=$layer:/usr" overlay "$root/usr"
    fi
    mount --bind "$root/local" "$root/usr/local"
    for folder in bin sbin lib lib32 lib64 libx32; do # of a machine whose /bin is no link into /usr
        if [ -d "/$folder" ] && [ ! -L "/$folder" ]; then
            mount --bind "/$folder" "$root/$folder"
        fi
    done
    mount -t proc proc "$root/proc"
    mount --bind "$root/proc/sys" "$root/proc/sys" # the kernel is everybody's, but for its network here
    mount -o remount,bind,ro "$root/proc/sys"
    mount --bind "$root/proc/sys/net" "$root/proc/sys/net"
    mount -o remount,bind,rw "$root/proc/sys/net"
    mount -t sysfs -o ro sysfs "$root/sys"
    mount -t cgroup2 cgroup2 "$root/sys/fs/cgroup"
    mount -t tmpfs -o mode=755 tmpfs "$root/run"
    mount -t tmpfs -o mode=755 tmpfs "$root/dev"
    for device in null zero full random urandom tty; do
        : >"$root/dev/$device"
        mount --bind "/dev/$device" "$root/dev/$device"
    done
    mkdir "$root/dev/pts" "$root/dev/shm"
    mount -t devpts -o newinstance,ptmxmode=0666,mode=620 devpts "$root/dev/pts"
    mount -t tmpfs -o mode=1777 tmpfs "$root/dev/shm"
    ln -s pts/ptmx "$root/dev/ptmx"
    ln -s /proc/self/fd "$root/dev/fd"
    ip link set lo up
    hostname tarn
    cd "$root"
    pivot_root . old
    umount -l /old
    mount --make-rshared / # within the machine, as an init expects it
    shift 2
    exec setpriv --bounding-set=-sys_module,-sys_time,-sys_rawio,-syslog \
        env -i container=machine PATH=/usr/sbin:/usr/bin:/sbin:/bin LANG=C.UTF-8 "$@"
    ;;
esac
