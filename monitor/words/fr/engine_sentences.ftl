# Erreurs du courtier, des fichiers, de la page et de la base. Le nom est la phrase anglaise.

## Courtier (MQTT)

the-broker-refused-the-user-name-or-password =
    le courtier a refusé le nom d’utilisateur ou le mot de passe
the-broker-has-banned-this-client =
    le courtier a banni ce client
the-broker-says-that-it-is-not-available-now =
    le courtier dit ne pas être disponible pour le moment
the-broker-says-that-it-is-busy =
    le courtier dit être occupé
nothing-answers-at-where-error-is-the-broker-running-and-are-host-and-port-right =
    rien ne répond à { $where } : { $error } ; le courtier tourne-t-il, l’adresse et le port sont-ils justes ?
the-connection-to-the-broker-was-lost-reason =
    la connexion au courtier est perdue : { $reason }
the-connection-to-the-broker-was-lost =
    la connexion au courtier est perdue
the-broker-refused-the-connection-reason =
    le courtier a refusé la connexion : { $reason }
the-broker-did-not-answer-within-seconds-seconds =
    le courtier n’a pas répondu en { $seconds } secondes
too-many-messages-wait-this-one-stays-in-the-broker =
    trop de messages attendent ; celui-ci reste dans le courtier

## Page et service

the-service-stops-it-is-copied-after-the-next-start =
    le service s’arrête ; la copie se fait après le prochain démarrage
there-is-no-recipient-recipient-the-settings-name-known =
    il n’y a pas de destinataire « { $recipient } » ; les réglages nomment { $known }
there-is-no-alarm-alarm-rearing-monitor-alarms-lists-those-that-are-active =
    il n’y a pas d’alarme « { $alarm } » ; `rearing-monitor alarms` liste celles qui sont actives
nobody =
    personne
an-alarm-that-is-state-cannot-take-the-event-event-nothing-was-changed =
    une alarme à l’état { $state } ne peut pas prendre l’événement { $event } ; rien n’est changé
the-books-of-the-bin-do-not-close-water-water-kg-where-water-due-kg-should-be-dry-matter-dry-kg-where-dry-due-kg-should-be =
    les comptes du bac ne tombent pas juste : eau { $water } kg au lieu de { $water_due } kg, matière sèche { $dry } kg au lieu de { $dry_due } kg

## Base de données et archive

path-what-error-to-mend-remedy =
    { $path } : { $what } ({ $error }). Remède : { $remedy }.
free-some-room-on-that-disk-old-backups-first-or-move-the-database-to-a-larger-one-nodes-and-broker-keep-their-readings-meanwhile-and-the-service-goes-on-by-itself =
    libérer de la place sur ce disque (d’abord les anciennes copies) ou déplacer la base vers un disque plus grand ; cartes et courtier gardent les mesures d’ici là et le service reprend de lui-même
the-disk-has-no-room-left =
    le disque n’a plus de place
another-program-holds-the-database =
    un autre programme tient la base de données
close-the-other-program-that-has-this-file-open-then-try-again =
    fermer l’autre programme qui a ouvert ce fichier, puis réessayer
the-database-refused =
    la base de données a refusé
report-this-text-to-whoever-maintains-the-monitor =
    transmettre ce texte à qui entretient le moniteur
the-database-file-is-damaged =
    le fichier de la base est endommagé
this-file-is-not-a-database =
    ce fichier n’est pas une base de données
give-another-file-in-store-path-or-put-this-one-back-from-a-backup =
    donner un autre fichier dans [store] path, ou remettre celui-ci depuis une copie
the-database-cannot-be-opened =
    la base de données ne s’ouvre pas
the-database-may-not-be-opened =
    il n’est pas permis d’ouvrir la base de données
the-database-may-not-be-written-to =
    il n’est pas permis d’écrire dans la base de données
the-disk-does-not-read-or-write-this-file =
    le disque ne lit ou n’écrit pas ce fichier
look-at-the-memory-card-or-disk-and-its-cable-copy-the-file-away-before-anything-else =
    vérifier la carte mémoire ou le disque et son câble ; copier le fichier ailleurs avant toute chose
path-the-database-file-is-damaged-error-to-mend-remedy =
    { $path } : le fichier de la base est endommagé ({ $error }). Remède : { $remedy }.
path-exists-already-nothing-was-written-to-mend-give-another-name =
    { $path } existe déjà ; rien n’est écrit. Remède : donner un autre nom.
the-folder-folder-does-not-exist-to-mend-create-it =
    le dossier { $folder } n’existe pas. Remède : le créer.
folder-takes-the-copies-of-another-site-site-and-nothing-was-written-to-mend-give-each-site-a-folder-of-its-own =
    { $folder } reçoit les copies d’un autre site ({ $site }), et rien n’a été écrit. Remède : donner à chaque site son dossier.
folder-was-not-prepared-for-copies-and-nothing-was-written-if-it-is-on-a-stick-or-disk-see-whether-that-is-plugged-in-and-mounted-if-it-is-the-right-folder-run-command =
    { $folder } n’a pas été préparé pour des copies, et rien n’a été écrit. S’il est sur une clé ou un disque, vérifier que celui-ci est branché et monté. Si c’est le bon dossier, lancer : { $command }
the-folder-folder-does-not-exist-and-nothing-was-written-if-it-is-on-a-stick-or-disk-see-whether-that-is-plugged-in-and-mounted-else-create-it-then-run-command =
    le dossier { $folder } n’existe pas, et rien n’a été écrit. S’il est sur une clé ou un disque, vérifier que celui-ci est branché et monté ; sinon le créer. Puis lancer : { $command }
path-cannot-be-copied-why-to-mend-run-rearing-monitor-check =
    { $path } ne peut pas être copié : { $why }. Remède : lancer `rearing-monitor check`.
path-cannot-be-read-why = { $path } ne peut pas être lu : { $why }
path-the-copy-does-not-hold-what-the-database-holds-tables-it-was-thrown-away-to-mend-try-again-when-it-happens-twice-use-another-stick-or-disk =
    { $path } : la copie ne contient pas ce que contient la base ({ $tables }) ; elle a été jetée. Remède : réessayer ; si cela arrive deux fois, prendre une autre clé ou un autre disque.
the-broker-refuses-what-this-program-sends-to-itself-and-no-board-is-heard-rights-checks =
    le courtier refuse ce que ce programme s’envoie à lui-même, et aucune carte n’est entendue : droits. { $checks }
the-broker-takes-what-boards-send-but-does-not-pass-it-on-topic-or-rights-checks =
    le courtier prend ce que les cartes envoient, mais ne le transmet pas : sujet ou droits. { $checks }
the-broker-does-not-answer =
    le courtier ne répond pas
an-error-of-the-program-kind-its-log-tells-more =
    une erreur du programme ({ $kind }) ; son journal en dit plus
the-monitor-itself-could-not-do-it-kind = le moniteur lui-même n’a pas pu le faire ({ $kind })
the-channel-broke-kind = la voie d’envoi a échoué ({ $kind })
a-phone-of-name-takes-messages-no-more-since-at-to-mend-open-the-page-on-it-choose-you-and-turn-on-messages-on-this-phone-again =
    un téléphone de { $name } ne reçoit plus de messages ({ $at }). Remède : y ouvrir la page, choisir Vous et y réactiver les messages.
host-cannot-be-reached-see-whether-the-internet-works =
    { $host } est hors d’atteinte ; voir si internet marche
host-did-not-take-it-answer-status =
    { $host } ne l’a pas pris (réponse { $status })
host-does-not-answer =
    { $host } ne répond pas
host-says-that-this-phone-takes-messages-no-more =
    { $host } dit que ce téléphone ne reçoit plus de messages
messages-to-phones-need-a-library-that-is-not-installed-to-mend-pip-install-package =
    les messages aux téléphones demandent une bibliothèque qui n’est pas installée. Remède : pip install { $package }
name-is-told-by-the-page-on-the-phone-alone-that-goes-over-the-internet-and-the-push-service-of-the-phone-s-maker-and-ends-without-a-word-when-the-page-s-data-are-deleted-give-name-another-way-as-well-an-address-in-place-of-webpush-phones-stay =
    { $name } n’est prévenu que par la page sur le téléphone. Cela passe par internet et par le service du fabricant du téléphone, et finit sans un mot quand les données de la page sont effacées. Donner aussi une autre voie à { $name } : une adresse à la place de webpush://, les téléphones restent.
name-is-told-nothing-no-phone-takes-messages-to-mend-open-the-page-over-https-on-the-phone-choose-you-and-turn-on-messages-on-this-phone =
    { $name } n’est prévenu de rien : aucun téléphone ne reçoit de messages. Remède : ouvrir la page en HTTPS sur le téléphone, choisir Vous et activer les messages sur ce téléphone.
no-phone-takes-messages-yet-open-the-page-over-https-on-the-phone-choose-you-and-turn-on-messages-on-this-phone =
    aucun téléphone ne reçoit encore de messages : ouvrir la page en HTTPS sur le téléphone, choisir Vous et activer les messages sur ce téléphone
the-message-to-the-phone-could-not-be-encrypted =
    le message au téléphone n’a pas pu être chiffré
the-push-service-has-no-address-on-the-internet-so-nothing-is-sent-there-host-is-of-the-own-network =
    le service de messages n’a pas d’adresse sur internet, donc rien n’y est envoyé : { $host } est du réseau local
what-the-browser-says-of-its-push-service-cannot-be-used-turn-it-on-again =
    ce que le navigateur dit de son service de messages est inutilisable ; réactiver les messages
stop-the-service-then-go-on-from-the-newest-backup-rearing-monitor-restore-folder-it-keeps-the-damaged-file-beside-it-when-it-happens-twice-replace-the-memory-card-or-disk =
    arrêter le service, puis repartir de la copie la plus récente : `rearing-monitor restore DOSSIER` (le fichier endommagé reste à côté) ; si cela arrive deux fois, remplacer la carte mémoire ou le disque
path-written-by-version-version-of-this-program-and-this-is-version-own-schema-found-this-one-knows-known-nothing-was-changed-to-mend-install-version-version-or-a-newer-one-back =
    { $path } : écrit par la version { $version } de ce programme, et celle-ci est la version { $own } (schéma { $found } ; celle-ci connaît { $known }). Rien n’a été changé. Remède : installer la version { $version } ou une plus récente. { $back }
a-copy-from-before-the-update-will-do-too-what-was-written-since-is-not-in-it =
    Une copie d’avant la mise à jour convient aussi ; ce qui a été écrit depuis n’y est pas.
to-stay-with-this-version-instead-put-copy-in-its-place-what-was-written-since-the-update-is-not-in-it =
    Pour rester à cette version, mettre { $copy } à sa place ; ce qui a été écrit depuis la mise à jour n’y est pas.
path-the-monitor-that-runs-on-it-process-number-is-still-the-older-version-and-nothing-was-changed-to-mend-start-it-again-such-as-sudo-systemctl-restart-rearing-monitor =
    { $path } : le moniteur qui tourne dessus (processus { $number }) est encore l’ancienne version, et rien n’a été changé. Remède : le redémarrer, par exemple : sudo systemctl restart rearing-monitor
path-no-copy-could-be-made-before-the-update-why-and-nothing-was-changed-to-mend-let-the-user-that-runs-the-program-write-in-folder =
    { $path } : aucune copie n’a pu être faite avant la mise à jour ({ $why }), et rien n’a été changé. Remède : permettre à l’utilisateur qui lance le programme d’écrire dans { $folder }.
path-before-the-update-a-copy-is-made-beside-it-which-needs-wanted-mb-free-mb-are-free-and-nothing-was-changed-to-mend-free-some-room-on-that-disk-or-install-the-version-of-before-again-meanwhile =
    { $path } : avant la mise à jour une copie est faite à côté, et il y faut { $wanted } Mo ; { $free } Mo sont libres, et rien n’a été changé. Remède : libérer de la place sur ce disque, ou réinstaller en attendant la version d’avant.
path-the-copy-that-is-made-before-an-update-came-out-damaged-error-and-nothing-was-changed-to-mend-run-rearing-monitor-check-when-it-happens-twice-replace-the-disk =
    { $path } : la copie faite avant une mise à jour est endommagée ({ $error }), et rien n’a été changé. Remède : lancer `rearing-monitor check` ; si cela arrive deux fois, remplacer le disque.
