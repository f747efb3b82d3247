"""Machines as workers of a cluster."""


def join_cluster(address: str, cpus: int | None) -> None:
    """Makes this machine a worker of the cluster at HOST:PORT until it is told to stop or the cluster ends.

    Raises PoolFailed where the cluster cannot be reached, holds other versions, or ends; InputError for a
    wrong address or authentication that is not stated.
    """
    from workers.node import join

    join(address, cpus)


def head_cluster(address: str, cpus: int) -> None:
    """Makes this machine the head of a new cluster at HOST:PORT, an address of its own, until it is told to stop."""
    from workers.node import head

    head(address, cpus)
